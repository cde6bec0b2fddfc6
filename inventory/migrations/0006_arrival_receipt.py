import django.core.validators
import django.db.models.deletion
import inventory.models.fields
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0005_component_ledger'),
    ]

    operations = [
        migrations.CreateModel(
            name='ArrivalReceipt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('number', models.PositiveIntegerField()),
                ('mileage', models.PositiveIntegerField(blank=True, null=True, validators=[django.core.validators.MaxValueValidator(2000000)], verbose_name='odometer reading, miles')),
                ('no_reading_reason', models.CharField(blank=True, max_length=200, verbose_name='why there is no reading')),
                ('odometer_status', inventory.models.fields.WordField(max_length=12)),
                ('fuel', inventory.models.fields.WordField(max_length=16)),
                ('keys_count', models.PositiveSmallIntegerField(validators=[django.core.validators.MaxValueValidator(50)], verbose_name='keys')),
                ('arrived_on', models.DateField()),
                ('note', models.CharField(blank=True, max_length=1000)),
                ('handed_over_by', models.CharField(max_length=200)),
                ('signs_as', inventory.models.fields.WordField(max_length=10)),
                ('giver_signed', inventory.models.fields.WordField(max_length=12)),
                ('giver_strokes', models.JSONField(blank=True, default=list)),
                ('unsigned_reason', models.CharField(blank=True, max_length=200, verbose_name='why the other side did not sign')),
                ('taken_in_by', models.CharField(max_length=200)),
                ('taker_signed', inventory.models.fields.WordField(max_length=12)),
                ('taker_strokes', models.JSONField(blank=True, default=list)),
                ('signed_at', models.DateTimeField(blank=True, null=True, verbose_name='signed by both sides')),
                ('file', models.FileField(upload_to='papers/%Y/%m/')),
                ('sha256', models.CharField(max_length=64)),
                ('client_key', models.UUIDField(blank=True, editable=False, null=True, unique=True)),
                ('by', models.CharField(max_length=120)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='IdentityResolution',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('question', models.CharField(max_length=600)),
                ('reason', models.CharField(max_length=400)),
                ('numbers_digest', models.CharField(max_length=64)),
                ('client_key', models.UUIDField(blank=True, editable=False, null=True, unique=True)),
                ('by', models.CharField(max_length=120)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='ReceiptDamage',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('where', models.CharField(max_length=60)),
                ('what', models.CharField(max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='ReceiptItem',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField()),
                ('what', models.CharField(max_length=120)),
                ('count', models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(1000)])),
            ],
        ),
        migrations.RemoveConstraint(
            model_name='identitynumber',
            name='identitynumber_kind_in_table',
        ),
        migrations.AddField(
            model_name='identitynumber',
            name='place',
            field=models.CharField(blank=True, max_length=80, verbose_name='where it was read'),
        ),
        migrations.AddField(
            model_name='lot',
            name='address',
            field=models.TextField(blank=True, max_length=300),
        ),
        migrations.AddField(
            model_name='vehicle',
            name='year_built',
            field=models.PositiveSmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(1886), django.core.validators.MaxValueValidator(2200)]),
        ),
        migrations.AlterField(
            model_name='vehicle',
            name='year',
            field=models.PositiveSmallIntegerField(validators=[django.core.validators.MinValueValidator(1886), django.core.validators.MaxValueValidator(2200)], verbose_name='model year, as titled'),
        ),
        migrations.AddConstraint(
            model_name='identitynumber',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['title', 'dash_plate', 'door_label', 'data_plate', 'frame_stamp', 'body_stamp', 'assigned_number', 'engine_stamp', 'other'])), name='identitynumber_kind_in_table', violation_error_message='Kind is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='vehicle',
            constraint=models.CheckConstraint(condition=models.Q(('year_built__isnull', True), models.Q(('year_built__gte', 1886), ('year_built__lte', 2200)), _connector='OR'), name='vehicle_year_built_is_possible', violation_error_message='The year built must be 1886 or later.'),
        ),
        migrations.AddField(
            model_name='arrivalreceipt',
            name='consignment',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='receipts', to='inventory.consignment'),
        ),
        migrations.AddField(
            model_name='arrivalreceipt',
            name='follows',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='followed_by', to='inventory.arrivalreceipt'),
        ),
        migrations.AddField(
            model_name='identityresolution',
            name='vehicle',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='identity_resolutions', to='inventory.vehicle'),
        ),
        migrations.AddField(
            model_name='receiptdamage',
            name='receipt',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='damage', to='inventory.arrivalreceipt'),
        ),
        migrations.AddField(
            model_name='receiptitem',
            name='receipt',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='items', to='inventory.arrivalreceipt'),
        ),
        migrations.AddIndex(
            model_name='arrivalreceipt',
            index=models.Index(fields=['consignment', 'id'], name='receipt_by_consignment'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.UniqueConstraint(fields=('consignment', 'number'), name='arrivalreceipt_number_is_unique'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.UniqueConstraint(condition=models.Q(('follows__isnull', True)), fields=('consignment',), name='arrivalreceipt_one_first_per_consignment', violation_error_message='There is an arrival receipt already; a new one follows it.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('mileage__isnull', False), ('no_reading_reason', '')), models.Q(('mileage__isnull', True), models.Q(('no_reading_reason', ''), _negated=True)), _connector='OR'), name='arrivalreceipt_reading_or_reason', violation_error_message='A receipt has an odometer reading, or the reason why it has none.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('handed_over_by', ''), _negated=True), models.Q(('taken_in_by', ''), _negated=True)), name='arrivalreceipt_has_both_names', violation_error_message='A receipt names who handed over and who took in.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('giver_signed', 'not_signed'), ('signed_at__isnull', True), models.Q(('unsigned_reason', ''), _negated=True)), models.Q(models.Q(('giver_signed', 'not_signed'), _negated=True), ('signed_at__isnull', False), ('unsigned_reason', '')), _connector='OR'), name='arrivalreceipt_signed_or_says_why_not', violation_error_message='A receipt is signed by both sides, or says why the other side did not sign.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('odometer_status__in', ['actual', 'over_limit', 'not_actual', 'not_stated'])), name='arrivalreceipt_odometer_status_in_table', violation_error_message='Odometer status is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('fuel__in', ['empty', 'quarter', 'half', 'three_quarters', 'full', 'not_known'])), name='arrivalreceipt_fuel_in_table', violation_error_message='Fuel is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('signs_as__in', ['owner', 'agent', 'carrier'])), name='arrivalreceipt_signs_as_in_table', violation_error_message='Signs as is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('giver_signed__in', ['drawn', 'typed', 'not_signed'])), name='arrivalreceipt_giver_signed_in_table', violation_error_message='Giver signed is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('taker_signed__in', ['drawn', 'typed'])), name='arrivalreceipt_taker_signed_in_table', violation_error_message='Taker signed is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('mileage__isnull', True), ('mileage__gte', 0), _connector='OR'), name='arrivalreceipt_mileage_at_least_0', violation_error_message='Mileage must be at least 0.'),
        ),
        migrations.AddConstraint(
            model_name='arrivalreceipt',
            constraint=models.CheckConstraint(condition=models.Q(('keys_count__isnull', True), ('keys_count__gte', 0), _connector='OR'), name='arrivalreceipt_keys_count_at_least_0', violation_error_message='Keys count must be at least 0.'),
        ),
        migrations.AddIndex(
            model_name='identityresolution',
            index=models.Index(fields=['vehicle', 'id'], name='resolution_by_vehicle'),
        ),
        migrations.AddConstraint(
            model_name='identityresolution',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('question', ''), _negated=True), models.Q(('reason', ''), _negated=True)), name='identityresolution_has_question_and_reason', violation_error_message='A resolution names the question and gives the reason.'),
        ),
        migrations.AddConstraint(
            model_name='receiptdamage',
            constraint=models.UniqueConstraint(fields=('receipt', 'position'), name='receiptdamage_position_is_unique'),
        ),
        migrations.AddConstraint(
            model_name='receiptdamage',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('where', ''), _negated=True), models.Q(('what', ''), _negated=True)), name='receiptdamage_says_where_and_what', violation_error_message='A line of damage says where and what.'),
        ),
        migrations.AddConstraint(
            model_name='receiptitem',
            constraint=models.UniqueConstraint(fields=('receipt', 'position'), name='receiptitem_position_is_unique'),
        ),
        migrations.AddConstraint(
            model_name='receiptitem',
            constraint=models.CheckConstraint(condition=models.Q(('what', ''), _negated=True), name='receiptitem_says_what', violation_error_message='A line of items says what.'),
        ),
        migrations.AddConstraint(
            model_name='receiptitem',
            constraint=models.CheckConstraint(condition=models.Q(('count__isnull', True), ('count__gte', 1), _connector='OR'), name='receiptitem_count_at_least_1', violation_error_message='Count must be at least 1.'),
        ),
    ]
