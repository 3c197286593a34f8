import django.contrib.auth.models
import django.contrib.auth.validators
import django.db.models.deletion
import django.utils.timezone
import studio.fields
from django.conf import settings
from django.db import migrations, models

from studio.operations import CreateModels


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [CreateModels([
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('role', models.CharField(choices=[('owner', 'Owner'), ('maker', 'Maker'), ('bookkeeper', 'Bookkeeper')], default='maker', max_length=12)),
                ('costs_allowed', models.BooleanField(default=False, help_text='Lets a maker see what materials and candles cost. Owners and bookkeepers always do.', verbose_name='sees costs')),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'ordering': ['first_name', 'username'],
                'constraints': [models.CheckConstraint(condition=models.Q(('role__in', ['owner', 'maker', 'bookkeeper'])), name='user_role_is_known')],
            },
            managers=[
                ('objects', django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name='Studio',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80)),
                ('currency', models.CharField(default='USD', help_text='Three letters, for example USD, EUR or GBP.', max_length=3)),
                ('mass_unit', models.CharField(choices=[('g', 'grams (g)'), ('kg', 'kilograms (kg)'), ('oz', 'ounces (oz)'), ('lb', 'pounds (lb)')], default='g', max_length=2, verbose_name='weights in')),
                ('temperature_unit', models.CharField(choices=[('C', 'degrees Celsius (°C)'), ('F', 'degrees Fahrenheit (°F)')], default='C', max_length=1, verbose_name='temperatures in')),
                ('page_size', models.CharField(choices=[('A4', 'A4'), ('Letter', 'US Letter')], default='A4', max_length=6, verbose_name='paper')),
                ('time_zone', models.CharField(default='UTC', max_length=64)),
                ('market', models.CharField(choices=[('eu', 'European Union'), ('gb', 'Great Britain'), ('us', 'United States')], default='eu', help_text='Decides the rules of net contents, the warning on the label, and whose rules on reporting a danger come first.', max_length=2, verbose_name='sold in')),
                ('telephone', models.CharField(blank=True, help_text="Printed with chemical hazard labeling, which names the supplier's telephone.", max_length=40, verbose_name='telephone on labels')),
                ('address', models.TextField(blank=True, help_text='Who makes the candles, and where.', max_length=300, verbose_name='name and place on labels')),
                ('warning_words', models.TextField(blank=True, help_text='Empty: the usual text of the market.', max_length=1000, verbose_name='warning on the label')),
                ('unexplained_ppm', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='may go unexplained')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='one_studio'), models.CheckConstraint(condition=models.Q(('unexplained_ppm__isnull', True), models.Q(('unexplained_ppm__gte', 0), ('unexplained_ppm__lte', 1000000)), _connector='OR'), name='studio_unexplained_is_a_share')],
            },
        ),
        migrations.CreateModel(
            name='LabelWarning',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('market', models.CharField(max_length=2)),
                ('words', models.TextField(max_length=1000, verbose_name='warning on the label')),
                ('confirmed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('confirmed_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-confirmed_at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Submission',
            fields=[
                ('key', models.UUIDField(primary_key=True, serialize=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('digest', models.CharField(max_length=64)),
                ('result', models.CharField(blank=True, max_length=300)),
                ('accepted_at', models.DateTimeField(auto_now_add=True)),
            ],
        ),
        migrations.CreateModel(
            name='Counter',
            fields=[
                ('prefix', models.CharField(max_length=1, primary_key=True, serialize=False)),
                ('last', studio.fields.ExactIntegerField(default=0)),
            ],
        ),
    ])]
