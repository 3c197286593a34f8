import django.core.validators
import django.db.models.deletion
import django.db.models.functions.text
import studio.fields
from django.conf import settings
from django.db import migrations, models

from studio.operations import CreateModels


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('batches', '0001_initial'),
        ('inventory', '0001_initial'),
        ('studio', '__first__'),
    ]

    operations = [CreateModels([
        migrations.CreateModel(
            name='GoodsRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_on', models.DateField(verbose_name='from')),
                ('with_labour', models.BooleanField(default=True, verbose_name='labour of those employed')),
                ('with_owner', models.BooleanField(default=False, verbose_name="the owner's own labour")),
                ('with_overhead', models.BooleanField(default=True, verbose_name='overhead')),
                ('normal_loss_ppm', studio.fields.ExactIntegerField(default=50000, verbose_name='normal loss')),
                ('blends', models.CharField(choices=[('in_progress', 'with what is in progress'), ('raw', 'with raw materials')], default='in_progress', max_length=11, verbose_name='blends count')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-from_on', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('normal_loss_ppm__gte', 0), ('normal_loss_ppm__lte', 1000000)), name='normal_loss_is_a_share'), models.CheckConstraint(condition=models.Q(('blends__in', ('in_progress', 'raw'))), name='goods_rule_knows_where_blends_stand')],
            },
        ),
        migrations.CreateModel(
            name='ClosedFigure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('closing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='figures', to='inventory.closing')),
                ('name', models.CharField(max_length=40)),
                ('value', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('closing', 'name'), name='closed_figure_once')],
            },
        ),
        migrations.CreateModel(
            name='ChannelTerms',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('channel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='terms', to='inventory.channel')),
                ('from_on', models.DateField(verbose_name='from')),
                ('percent_ppm', studio.fields.ExactIntegerField(default=0, verbose_name='percentage fees')),
                ('fee_on_tax', models.BooleanField(default=True, verbose_name='fees are taken of the tax too')),
                ('fixed_micros', studio.fields.ExactIntegerField(default=0, verbose_name='fixed fees of an order')),
                ('shipping_micros', studio.fields.ExactIntegerField(default=0, verbose_name='shipping of an order')),
                ('units_milli', studio.fields.ExactIntegerField(default=1000, verbose_name='pieces in an order')),
                ('tax', models.CharField(choices=[('none', 'none'), ('inside', 'inside the price'), ('added', 'added to the price')], default='none', max_length=6, verbose_name='tax')),
                ('tax_ppm', studio.fields.ExactIntegerField(default=0, verbose_name='rate of tax')),
                ('discount_ppm', studio.fields.ExactIntegerField(default=0, verbose_name='usual discount')),
                ('discounted_ppm', studio.fields.ExactIntegerField(default=1000000, verbose_name='share sold at the discount')),
                ('share_of', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.channel', verbose_name='share of the price in')),
                ('share_ppm', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='share of that price')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-from_on', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('percent_ppm__gte', 0), ('percent_ppm__lt', 1000000), ('tax_ppm__gte', 0), ('tax_ppm__lte', 1000000), ('discount_ppm__gte', 0), ('discount_ppm__lt', 1000000), ('discounted_ppm__gte', 0), ('discounted_ppm__lte', 1000000)), name='terms_rates_are_possible'), models.CheckConstraint(condition=models.Q(('fixed_micros__gte', 0), ('shipping_micros__gte', 0)), name='terms_fees_not_negative'), models.CheckConstraint(condition=models.Q(('units_milli__gt', 0)), name='terms_order_holds_something'), models.CheckConstraint(condition=models.Q(('tax__in', ('none', 'inside', 'added'))), name='terms_tax_is_known'), models.CheckConstraint(condition=models.Q(models.Q(('share_of__isnull', True), ('share_ppm__isnull', True)), models.Q(('share_of__isnull', False), ('share_ppm__gt', 0), ('share_ppm__lte', 1000000)), _connector='OR'), name='terms_share_is_of_a_channel')],
            },
        ),
        migrations.CreateModel(
            name='AskedPrice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='asked_prices', to='inventory.item')),
                ('channel', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='asked_prices', to='inventory.channel')),
                ('from_on', models.DateField(verbose_name='from')),
                ('price_micros', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='price')),
                ('note', models.CharField(blank=True, max_length=200)),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-from_on', '-pk'],
                'indexes': [models.Index(fields=['item', 'channel', '-from_on'], name='asked_price_by_day')],
                'constraints': [models.CheckConstraint(condition=models.Q(('price_micros__isnull', True), ('price_micros__gt', 0), _connector='OR'), name='asked_price_above_zero')],
            },
        ),
        migrations.CreateModel(
            name='PriceRounding',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('way', models.CharField(choices=[('none', 'up to the smallest coin'), ('up', 'up to the next price point'), ('nearest', 'to the nearest price point')], default='none', max_length=8)),
                ('step_micros', studio.fields.ExactIntegerField(default=1000000)),
                ('endings', models.JSONField(default=list)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('id', 1)), name='price_rounding_once'), models.CheckConstraint(condition=models.Q(('step_micros__gt', 0)), name='price_rounding_has_a_step')],
            },
        ),
        migrations.CreateModel(
            name='Scenario',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='scenarios', to='batches.formulaversion')),
                ('fragrance', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='scenarios', to='inventory.item')),
                ('fragrance_name', models.CharField(blank=True, max_length=120)),
                ('load_ppm', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('load_basis', models.CharField(choices=[('of_wax', 'of wax'), ('of_melt', 'of melt')], default='of_wax', max_length=8)),
                ('fill_ug', studio.fields.ExactIntegerField()),
                ('first_units', models.PositiveIntegerField()),
                ('run_units', models.PositiveIntegerField()),
                ('year_units', models.PositiveIntegerField()),
                ('run_minutes_milli', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('unit_minutes_milli', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.channel')),
                ('price_micros', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('put_away', models.BooleanField(default=False)),
                ('made', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='thought_of_as', to='batches.formulaversion')),
                ('kept_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('kept_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-kept_at', '-pk'],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='scenario_name_once', violation_error_message='A scenario of this name exists already.'), models.CheckConstraint(condition=models.Q(('fill_ug__gt', 0), ('first_units__gt', 0), ('run_units__gt', 0), ('year_units__gt', 0), models.Q(('load_ppm__isnull', True), models.Q(('load_ppm__gt', 0), ('load_ppm__lt', 1000000)), _connector='OR'), models.Q(('run_minutes_milli__isnull', True), ('run_minutes_milli__gte', 0), _connector='OR'), models.Q(('unit_minutes_milli__isnull', True), ('unit_minutes_milli__gte', 0), _connector='OR'), models.Q(('price_micros__isnull', True), ('price_micros__gt', 0), _connector='OR')), name='scenario_figures_are_possible')],
            },
        ),
        migrations.CreateModel(
            name='ScenarioPart',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('scenario', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='parts', to='costing.scenario')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('amount', studio.fields.ExactIntegerField()),
                ('spare_ppm', studio.fields.ExactIntegerField(default=0)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount__gt', 0), ('spare_ppm__gte', 0)), name='scenario_part_has_an_amount')],
            },
        ),
        migrations.CreateModel(
            name='ScenarioQuote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('scenario', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='quotes', to='costing.scenario')),
                ('pack_quantity', studio.fields.ExactIntegerField()),
                ('typed_pack', models.CharField(max_length=60)),
                ('from_packs', models.PositiveIntegerField(default=1)),
                ('price_micros', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pack_quantity', 'from_packs', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('from_packs__gt', 0), ('pack_quantity__gt', 0), ('price_micros__gt', 0)), name='scenario_quote_is_a_price'), models.UniqueConstraint(fields=('scenario', 'pack_quantity', 'from_packs'), name='scenario_quote_once')],
            },
        ),
        migrations.CreateModel(
            name='ScenarioExpense',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('scenario', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='expenses', to='costing.scenario')),
                ('kind', models.CharField(choices=[('pour', 'Test pours'), ('burn', 'Burn tests'), ('certificate', 'Certificates'), ('other', 'Other')], max_length=11)),
                ('words', models.CharField(blank=True, max_length=120, verbose_name='what')),
                ('number', models.PositiveIntegerField(default=1, verbose_name='how many')),
                ('each_micros', studio.fields.ExactIntegerField(verbose_name='each')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('each_micros__gte', 0), ('number__gt', 0)), name='scenario_expense_is_a_sum'), models.CheckConstraint(condition=models.Q(('kind__in', ('pour', 'burn', 'certificate', 'other'))), name='scenario_expense_kind_is_known')],
            },
        ),
        migrations.CreateModel(
            name='LabourRate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('from_on', models.DateField(verbose_name='from')),
                ('person', models.ForeignKey(blank=True, help_text='Leave empty for everybody without a rate of their own.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='labour_rates', to=settings.AUTH_USER_MODEL)),
                ('task', models.CharField(blank=True, choices=[('weigh', 'Weighing and melting'), ('pour', 'Pouring'), ('finish', 'Hand finishing'), ('label', 'Labelling and packing'), ('other', 'Other')], default='', max_length=8, verbose_name='for')),
                ('per_hour', studio.fields.ExactIntegerField(verbose_name='per hour')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-from_on', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('per_hour__gte', 0)), name='labour_rate_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='OverheadRate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(blank=True, default='', max_length=40, verbose_name='what for')),
                ('from_on', models.DateField(verbose_name='from')),
                ('basis', models.CharField(choices=[('per_labour_hour', 'for each hour of labour'), ('per_batch', 'for each batch'), ('per_unit', 'for each unit poured'), ('per_melt', 'for each pot melted'), ('per_kg', 'for each kilogram of melt'), ('of_labour', 'as a share of labour cost')], max_length=16)),
                ('amount', studio.fields.ExactIntegerField(help_text='Millionths of the currency, or parts per million of labour.')),
                ('per_month', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='costs a month')),
                ('capacity', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='normal capacity')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-from_on', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount__gte', 0)), name='overhead_rate_not_negative'), models.CheckConstraint(condition=models.Q(models.Q(('capacity__isnull', True), ('per_month__isnull', True)), models.Q(('capacity__gt', 0), ('per_month__gte', 0)), _connector='OR'), name='overhead_capacity_with_its_cost')],
            },
        ),
        migrations.CreateModel(
            name='OverheadPaid',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('month', models.DateField()),
                ('amount', studio.fields.ExactIntegerField()),
                ('note', models.CharField(blank=True, max_length=120)),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'verbose_name_plural': 'overhead paid',
                'ordering': ['-month', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount__gte', 0)), name='overhead_paid_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='WorkStandard',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('formula', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='work_standards', to='batches.formula')),
                ('from_on', models.DateField(verbose_name='from')),
                ('spoilage_ppm', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='expected to be lost')),
                ('set_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-from_on', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('spoilage_ppm__isnull', True), models.Q(('spoilage_ppm__gte', 0), ('spoilage_ppm__lt', 1000000)), _connector='OR'), name='expected_loss_is_a_share')],
            },
        ),
        migrations.CreateModel(
            name='WorkStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('standard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='costing.workstandard')),
                ('task', models.CharField(choices=[('weigh', 'Weighing and melting'), ('pour', 'Pouring'), ('finish', 'Hand finishing'), ('label', 'Labelling and packing'), ('other', 'Other')], max_length=8)),
                ('batch_minutes', models.PositiveIntegerField(default=0, validators=[django.core.validators.MaxValueValidator(10000)], verbose_name='minutes a batch')),
                ('unit_seconds', models.PositiveIntegerField(default=0, validators=[django.core.validators.MaxValueValidator(100000)], verbose_name='seconds each')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('standard', 'task'), name='work_step_once')],
            },
        ),
    ])]
