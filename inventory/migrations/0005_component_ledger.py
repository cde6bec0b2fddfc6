import django.db.models.deletion
import inventory.models.fields
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0004_media'),
    ]

    operations = [
        migrations.CreateModel(
            name='BuildDate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('earliest_on', models.DateField(verbose_name='built at the earliest on')),
                ('latest_on', models.DateField(verbose_name='built at the latest on')),
                ('basis', inventory.models.fields.WordField(max_length=20)),
                ('source', models.CharField(max_length=200, verbose_name='where it was read')),
                ('client_key', models.UUIDField(blank=True, editable=False, null=True, unique=True)),
                ('by', models.CharField(max_length=120)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='DecoderEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('component', models.CharField(max_length=40)),
                ('make', models.CharField(max_length=60)),
                ('from_year', models.PositiveSmallIntegerField(verbose_name='model years from')),
                ('to_year', models.PositiveSmallIntegerField(verbose_name='model years to')),
                ('written', models.CharField(max_length=40, verbose_name='code, as written')),
                ('written_key', models.CharField(editable=False, max_length=40)),
                ('match', inventory.models.fields.WordField(default='exact', max_length=10, verbose_name='what is compared')),
                ('meaning', models.CharField(max_length=200)),
                ('earliest_on', models.DateField(blank=True, null=True, verbose_name='means made at the earliest on')),
                ('latest_on', models.DateField(blank=True, null=True, verbose_name='means made at the latest on')),
                ('source', models.CharField(max_length=200, verbose_name='where that is from')),
                ('retired', models.BooleanField(default=False)),
                ('client_key', models.UUIDField(blank=True, editable=False, null=True, unique=True)),
                ('by', models.CharField(max_length=120)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='ModificationComponent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('component', models.CharField(max_length=40)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='client_key',
            field=models.UUIDField(blank=True, editable=False, null=True, unique=True),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='date_basis',
            field=inventory.models.fields.WordField(default='not_established', max_length=20),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='date_code',
            field=models.CharField(blank=True, max_length=40, verbose_name='date code, as read'),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='earliest_on',
            field=models.DateField(blank=True, null=True, verbose_name='made at the earliest on'),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='latest_on',
            field=models.DateField(blank=True, null=True, verbose_name='made at the latest on'),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='not_fitted',
            field=models.BooleanField(default=False, verbose_name='never had one'),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='note',
            field=models.CharField(blank=True, max_length=500),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='number',
            field=models.CharField(blank=True, max_length=60, verbose_name='part or casting number, as read'),
        ),
        migrations.AddField(
            model_name='componentrecord',
            name='number_basis',
            field=inventory.models.fields.WordField(default='not_established', max_length=20),
        ),
        migrations.AddField(
            model_name='modification',
            name='cost_told',
            field=inventory.models.fields.MoneyField(blank=True, null=True, verbose_name='cost, as told'),
        ),
        migrations.AddField(
            model_name='modification',
            name='era',
            field=inventory.models.fields.WordField(default='not_known', max_length=10),
        ),
        migrations.AddField(
            model_name='modification',
            name='material',
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name='modification',
            name='where',
            field=models.CharField(blank=True, max_length=120),
        ),
        migrations.AddConstraint(
            model_name='componentrecord',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('earliest_on__isnull', True), ('latest_on__isnull', True)), models.Q(('earliest_on__isnull', False), ('earliest_on__lte', models.F('latest_on')), ('latest_on__isnull', False)), _connector='OR'), name='componentrecord_dates_are_a_span', violation_error_message='Give the earliest and the latest day, the earlier one first.'),
        ),
        migrations.AddConstraint(
            model_name='componentrecord',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(models.Q(('number', ''), _negated=True), ('number_basis__in', ['measured', 'seen', 'documented', 'told', 'presumed'])), models.Q(('number', ''), ('number_basis', 'not_established')), _connector='OR'), name='componentrecord_number_has_basis', violation_error_message='Say what the number rests on, and give no basis where there is none.'),
        ),
        migrations.AddConstraint(
            model_name='componentrecord',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(models.Q(models.Q(('date_code', ''), _negated=True), ('earliest_on__isnull', False), _connector='OR'), ('date_basis__in', ['measured', 'seen', 'documented', 'told', 'presumed'])), models.Q(models.Q(models.Q(('date_code', ''), _negated=True), ('earliest_on__isnull', False), _connector='OR', _negated=True), ('date_basis', 'not_established')), _connector='OR'), name='componentrecord_date_has_basis', violation_error_message='Say what the date rests on, and give no basis where there is none.'),
        ),
        migrations.AddConstraint(
            model_name='componentrecord',
            constraint=models.CheckConstraint(condition=models.Q(('not_fitted', False), models.Q(('as_found', ''), ('date_code', ''), ('earliest_on__isnull', True), ('number', ''), ('standing', 'not_established')), _connector='OR'), name='componentrecord_not_fitted_has_nothing', violation_error_message='What the vehicle never had has no standing, number or date, and is not found there. What was added later is non-original.'),
        ),
        migrations.AddConstraint(
            model_name='modification',
            constraint=models.CheckConstraint(condition=models.Q(('era__in', ['period', 'modern', 'not_known'])), name='modification_era_in_table', violation_error_message='Era is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='modification',
            constraint=models.CheckConstraint(condition=models.Q(('cost_told__isnull', True), ('cost_told__gte', 0), _connector='OR'), name='modification_cost_told_at_least_0', violation_error_message='Cost told must be at least 0.'),
        ),
        migrations.AddField(
            model_name='builddate',
            name='vehicle',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='build_dates', to='inventory.vehicle'),
        ),
        migrations.AddField(
            model_name='decoderentry',
            name='corrects',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='inventory.decoderentry'),
        ),
        migrations.AddField(
            model_name='modificationcomponent',
            name='modification',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to='inventory.modification'),
        ),
        migrations.AddIndex(
            model_name='builddate',
            index=models.Index(fields=['vehicle', 'id'], name='builddate_by_vehicle'),
        ),
        migrations.AddConstraint(
            model_name='builddate',
            constraint=models.CheckConstraint(condition=models.Q(('basis__in', ['measured', 'seen', 'documented', 'told', 'presumed'])), name='builddate_basis_in_table', violation_error_message='Basis is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='builddate',
            constraint=models.CheckConstraint(condition=models.Q(('earliest_on__isnull', False), ('earliest_on__lte', models.F('latest_on')), ('latest_on__isnull', False)), name='builddate_dates_are_a_span', violation_error_message='Give the earliest and the latest day, the earlier one first.'),
        ),
        migrations.AddConstraint(
            model_name='builddate',
            constraint=models.CheckConstraint(condition=models.Q(('source', ''), _negated=True), name='builddate_has_source', violation_error_message='Say where the date was read.'),
        ),
        migrations.AddIndex(
            model_name='decoderentry',
            index=models.Index(fields=['make', 'component', 'written_key'], name='decoder_by_code'),
        ),
        migrations.AddConstraint(
            model_name='decoderentry',
            constraint=models.CheckConstraint(condition=models.Q(('match__in', ['exact', 'prefix'])), name='decoderentry_match_in_table', violation_error_message='Match is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='decoderentry',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('earliest_on__isnull', True), ('latest_on__isnull', True)), models.Q(('earliest_on__isnull', False), ('earliest_on__lte', models.F('latest_on')), ('latest_on__isnull', False)), _connector='OR'), name='decoderentry_dates_are_a_span', violation_error_message='Give the earliest and the latest day, the earlier one first.'),
        ),
        migrations.AddConstraint(
            model_name='decoderentry',
            constraint=models.CheckConstraint(condition=models.Q(('from_year__gte', 1886), ('from_year__lte', models.F('to_year')), ('to_year__lte', 2200)), name='decoderentry_years_are_a_span', violation_error_message='The model years run from 1886 to 2200, the earlier one first.'),
        ),
        migrations.AddConstraint(
            model_name='decoderentry',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('make', ''), _negated=True), models.Q(('written_key', ''), _negated=True), models.Q(('meaning', ''), _negated=True), models.Q(('source', ''), _negated=True)), name='decoderentry_is_whole', violation_error_message='Give make, code, meaning and where that is from.'),
        ),
        migrations.AddConstraint(
            model_name='decoderentry',
            constraint=models.CheckConstraint(condition=models.Q(('retired', False), ('corrects__isnull', False), _connector='OR'), name='decoderentry_retires_another', violation_error_message='Only an entry that is there can be retired.'),
        ),
        migrations.AddConstraint(
            model_name='modificationcomponent',
            constraint=models.UniqueConstraint(fields=('modification', 'component'), name='modificationcomponent_named_once', violation_error_message='A modification names each component once.'),
        ),
    ]
