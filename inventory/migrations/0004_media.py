import django.core.validators
import django.db.models.deletion
import inventory.models.fields
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0003_walk_by_station'),
    ]

    operations = [
        migrations.CreateModel(
            name='Clip',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('station', models.CharField(blank=True, max_length=40, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')])),
                ('shot', models.CharField(blank=True, max_length=60, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')])),
                ('kind', inventory.models.fields.WordField(default='other', max_length=12)),
                ('caption', models.CharField(blank=True, max_length=120)),
                ('file', models.FileField(upload_to='clips/%Y/%m/')),
                ('name', models.CharField(blank=True, max_length=255)),
                ('content_type', models.CharField(max_length=40)),
                ('sha256', models.CharField(max_length=64, validators=[django.core.validators.RegexValidator('\\A[0-9a-f]{64}\\Z', 'A SHA-256 is 64 hexadecimal digits in small letters.')])),
                ('bytes', models.PositiveBigIntegerField()),
                ('located', models.BooleanField(default=False, verbose_name='holds the place where it was taken')),
                ('public', models.BooleanField(default=False, verbose_name='shown to consignor and buyers')),
                ('resent', models.PositiveSmallIntegerField(default=0, verbose_name='times it was hidden before it was sent again')),
                ('client_key', models.UUIDField(blank=True, editable=False, null=True, unique=True)),
                ('by', models.CharField(max_length=120)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='HiddenMedia',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('reason', models.CharField(max_length=200)),
                ('by', models.CharField(max_length=120)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='Upload',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('kind', inventory.models.fields.WordField(max_length=8)),
                ('name', models.CharField(max_length=255)),
                ('total', models.PositiveBigIntegerField()),
                ('received', models.PositiveBigIntegerField(default=0)),
                ('sha256', models.CharField(max_length=64, validators=[django.core.validators.RegexValidator('\\A[0-9a-f]{64}\\Z', 'A SHA-256 is 64 hexadecimal digits in small letters.')])),
                ('client_key', models.UUIDField(editable=False, unique=True)),
                ('station', models.CharField(blank=True, max_length=40, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')])),
                ('check_code', models.CharField(blank=True, max_length=60, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')])),
                ('shot', models.CharField(blank=True, max_length=60, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')])),
                ('clip_kind', inventory.models.fields.WordField(default='other', max_length=12)),
                ('caption', models.CharField(blank=True, max_length=120)),
                ('public', models.BooleanField(default=False)),
                ('begun_at', models.DateTimeField()),
                ('touched_at', models.DateTimeField()),
                ('finished_at', models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.RemoveConstraint(
            model_name='photo',
            name='photo_once_per_consignment',
        ),
        migrations.AddField(
            model_name='photo',
            name='check_code',
            field=models.CharField(blank=True, max_length=60, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')]),
        ),
        migrations.AddField(
            model_name='photo',
            name='height',
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='photo',
            name='original',
            field=models.FileField(blank=True, upload_to='originals/%Y/%m/'),
        ),
        migrations.AddField(
            model_name='photo',
            name='original_bytes',
            field=models.PositiveBigIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='photo',
            name='original_name',
            field=models.CharField(blank=True, max_length=255),
        ),
        migrations.AddField(
            model_name='photo',
            name='original_sha256',
            field=models.CharField(blank=True, max_length=64, validators=[django.core.validators.RegexValidator('\\A[0-9a-f]{64}\\Z', 'A SHA-256 is 64 hexadecimal digits in small letters.')]),
        ),
        migrations.AddField(
            model_name='photo',
            name='resent',
            field=models.PositiveSmallIntegerField(default=0, verbose_name='times it was hidden before it was sent again'),
        ),
        migrations.AddField(
            model_name='photo',
            name='shot',
            field=models.CharField(blank=True, max_length=60, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')]),
        ),
        migrations.AddField(
            model_name='photo',
            name='station',
            field=models.CharField(blank=True, max_length=40, validators=[django.core.validators.RegexValidator('\\A[a-z0-9_.]+\\Z', 'A code is made of small letters, digits, dots and underlines.')]),
        ),
        migrations.AddField(
            model_name='photo',
            name='thumbnail',
            field=models.FileField(blank=True, upload_to='thumbnails/%Y/%m/'),
        ),
        migrations.AddField(
            model_name='photo',
            name='width',
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name='photo',
            constraint=models.UniqueConstraint(condition=models.Q(('original_sha256__gt', '')), fields=('consignment', 'original_sha256', 'resent'), name='photo_original_once_per_consignment', violation_error_message='This photo is here already.'),
        ),
        migrations.AddConstraint(
            model_name='photo',
            constraint=models.UniqueConstraint(condition=models.Q(('original_sha256', '')), fields=('consignment', 'digest', 'resent'), name='photo_once_per_consignment', violation_error_message='This photo is here already.'),
        ),
        migrations.AddField(
            model_name='clip',
            name='consignment',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='clips', to='inventory.consignment'),
        ),
        migrations.AddField(
            model_name='hiddenmedia',
            name='clip',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='hiding', to='inventory.clip'),
        ),
        migrations.AddField(
            model_name='hiddenmedia',
            name='photo',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='hiding', to='inventory.photo'),
        ),
        migrations.AddField(
            model_name='upload',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='upload',
            name='clip',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.clip'),
        ),
        migrations.AddField(
            model_name='upload',
            name='consignment',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uploads', to='inventory.consignment'),
        ),
        migrations.AddField(
            model_name='upload',
            name='photo',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.photo'),
        ),
        migrations.AddConstraint(
            model_name='clip',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['cold_start', 'walk_round', 'underside', 'other'])), name='clip_kind_in_table', violation_error_message='Kind is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='clip',
            constraint=models.UniqueConstraint(fields=('consignment', 'sha256', 'resent'), name='clip_once_per_consignment', violation_error_message='This clip is here already.'),
        ),
        migrations.AddConstraint(
            model_name='clip',
            constraint=models.CheckConstraint(condition=models.Q(('public', False), ('located', False), _connector='OR'), name='clip_public_without_place', violation_error_message='A clip that holds the place where it was taken may not be public.'),
        ),
        migrations.AddConstraint(
            model_name='hiddenmedia',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clip__isnull', True), ('photo__isnull', False)), models.Q(('clip__isnull', False), ('photo__isnull', True)), _connector='OR'), name='hiddenmedia_of_one_thing', violation_error_message='What is hidden is one photo or one clip.'),
        ),
        migrations.AddConstraint(
            model_name='upload',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['photo', 'clip'])), name='upload_kind_in_table', violation_error_message='Kind is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='upload',
            constraint=models.CheckConstraint(condition=models.Q(('clip_kind__in', ['cold_start', 'walk_round', 'underside', 'other'])), name='upload_clip_kind_in_table', violation_error_message='Clip kind is not one of the known words.'),
        ),
        migrations.AddConstraint(
            model_name='upload',
            constraint=models.CheckConstraint(condition=models.Q(('received__lte', models.F('total'))), name='upload_received_within_total', violation_error_message='More came than was announced.'),
        ),
        migrations.AddConstraint(
            model_name='upload',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('clip__isnull', True), ('finished_at__isnull', True), ('photo__isnull', True)), models.Q(('clip__isnull', True), ('finished_at__isnull', False), ('kind', 'photo'), ('photo__isnull', False)), models.Q(('clip__isnull', False), ('finished_at__isnull', False), ('kind', 'clip'), ('photo__isnull', True)), _connector='OR'), name='upload_finished_as_its_kind', violation_error_message='A finished upload is one photo or one clip, as it was announced.'),
        ),
    ]
