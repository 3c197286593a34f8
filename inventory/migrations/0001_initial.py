import django.db.models.deletion
import django.db.models.functions.text
import studio.fields
from django.conf import settings
from django.db import migrations, models

from studio.operations import CreateModels


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('studio', '__first__'),
    ]

    operations = [CreateModels([
        migrations.CreateModel(
            name='Supplier',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('contact', models.CharField(blank=True, max_length=120)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('lead_days', models.PositiveIntegerField(blank=True, help_text='Days from order to delivery, as the supplier says.', null=True, verbose_name='stated lead time')),
                ('minimum_order', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='least it takes an order for')),
                ('freight_per_order', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='freight of an order')),
                ('free_freight_from', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='sends free from')),
                ('notes', models.TextField(blank=True, max_length=2000)),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('name')],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='supplier_name_once', violation_error_message='A supplier of this name exists already.')],
            },
        ),
        migrations.CreateModel(
            name='Item',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120)),
                ('kind', models.CharField(choices=[('wax', 'Wax'), ('fragrance', 'Fragrance'), ('dye', 'Dye'), ('additive', 'Additive'), ('wick', 'Wick'), ('vessel', 'Vessel'), ('lid', 'Lid'), ('label', 'Label'), ('packaging', 'Packaging'), ('finished', 'Finished good')], max_length=10)),
                ('made_here', models.BooleanField(default=False, help_text='A blend: made in one batch here and used in another.', verbose_name='made here')),
                ('unit', models.CharField(choices=[('g', 'grams (g)'), ('kg', 'kilograms (kg)'), ('oz', 'ounces (oz)'), ('lb', 'pounds (lb)'), ('each', 'each (counted)'), ('m', 'metres (m)'), ('cm', 'centimetres (cm)'), ('in', 'inches (in)'), ('ft', 'feet (ft)')], default='g', max_length=4, verbose_name='shown in')),
                ('place', models.CharField(blank=True, help_text='Where new lots go, for example Shelf B2.', max_length=60, verbose_name='usual place')),
                ('expected_at_most', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('shelf_life_days', models.PositiveIntegerField(blank=True, help_text='Days from arrival, when a delivery states no date.', null=True, verbose_name='shelf life')),
                ('density_ug_per_ml', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('flash_point_mc', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('maximum_load_ppm', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('maximum_load_basis', models.CharField(blank=True, choices=[('of_wax', 'of wax'), ('of_melt', 'of melt')], max_length=8)),
                ('certificate_on', models.DateField(blank=True, null=True, verbose_name='IFRA certificate dated')),
                ('certificate_amendment', models.CharField(blank=True, max_length=20, verbose_name='IFRA amendment')),
                ('service_ppm', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='service level')),
                ('room_for', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='room for')),
                ('no_longer_bought', models.BooleanField(default=False)),
                ('replaced_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='replaces', to='inventory.item')),
                ('notes', models.TextField(blank=True, max_length=2000)),
                ('retired', models.BooleanField(default=False, help_text='Kept in the books and no longer offered in forms.')),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('name')],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='item_name_once', violation_error_message='An item of this name exists already.'), models.CheckConstraint(condition=models.Q(('kind__in', ['wax', 'fragrance', 'dye', 'additive', 'wick', 'vessel', 'lid', 'label', 'packaging', 'finished'])), name='item_kind_is_known'), models.CheckConstraint(condition=models.Q(('unit__in', ['g', 'kg', 'oz', 'lb', 'each', 'm', 'cm', 'in', 'ft'])), name='item_unit_is_known'), models.CheckConstraint(condition=models.Q(('maximum_load_ppm__isnull', True), models.Q(('maximum_load_basis', ''), _negated=True), _connector='OR'), name='item_maximum_load_names_its_basis'), models.CheckConstraint(condition=models.Q(('service_ppm__isnull', True), models.Q(('service_ppm__gte', 500000), ('service_ppm__lte', 999900)), _connector='OR'), name='item_service_level_is_possible'), models.CheckConstraint(condition=models.Q(('room_for__isnull', True), ('room_for__gt', 0), _connector='OR'), name='item_has_room_for_something')],
            },
        ),
        migrations.CreateModel(
            name='Offer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='inventory.supplier')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='offers', to='inventory.item')),
                ('pack_quantity', studio.fields.ExactIntegerField()),
                ('typed_pack', models.CharField(max_length=60)),
                ('supplier_code', models.CharField(blank=True, max_length=60, verbose_name="supplier's article number")),
                ('minimum_packs', models.PositiveIntegerField(default=1)),
                ('lead_days', models.PositiveIntegerField(blank=True, null=True, verbose_name='stated lead time')),
                ('quoted_on', models.DateField()),
                ('valid_until', models.DateField(blank=True, null=True)),
                ('withdrawn', models.BooleanField(default=False)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('recorded_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-quoted_on', '-pk'],
                'indexes': [models.Index(fields=['item', '-quoted_on'], name='offer_of_item')],
                'constraints': [models.CheckConstraint(condition=models.Q(('pack_quantity__gt', 0)), name='offer_pack_is_positive'), models.CheckConstraint(condition=models.Q(('minimum_packs__gt', 0)), name='offer_minimum_is_positive'), models.CheckConstraint(condition=models.Q(('valid_until__isnull', True), ('valid_until__gte', models.F('quoted_on')), _connector='OR'), name='offer_ends_after_it_began')],
            },
        ),
        migrations.CreateModel(
            name='OfferBreak',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('offer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='breaks', to='inventory.offer')),
                ('from_packs', models.PositiveIntegerField()),
                ('price', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['from_packs'],
                'constraints': [models.UniqueConstraint(fields=('offer', 'from_packs'), name='offer_break_once'), models.CheckConstraint(condition=models.Q(('from_packs__gt', 0)), name='offer_break_from_one'), models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='offer_price_is_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='Order',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=12, unique=True)),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='inventory.supplier')),
                ('state', models.CharField(choices=[('draft', 'Draft'), ('sent', 'Sent'), ('closed', 'Closed'), ('called_off', 'Called off')], default='draft', max_length=10)),
                ('note', models.TextField(blank=True, max_length=1000, verbose_name='note to the supplier')),
                ('expected_on', models.DateField(blank=True, null=True, verbose_name='expected')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('made_at', models.DateTimeField()),
                ('sent_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('sent_at', models.DateTimeField(blank=True, null=True)),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('ended_because', models.CharField(blank=True, max_length=300)),
            ],
            options={
                'ordering': ['-made_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ('draft', 'sent', 'closed', 'called_off'))), name='order_state_is_known'), models.CheckConstraint(condition=models.Q(('state__in', ('draft', 'called_off')), ('sent_at__isnull', False), _connector='OR'), name='order_sent_names_its_time')],
            },
        ),
        migrations.CreateModel(
            name='OrderLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='inventory.order')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='order_lines', to='inventory.item')),
                ('offer', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.offer')),
                ('packs', models.PositiveIntegerField()),
                ('pack_quantity', studio.fields.ExactIntegerField()),
                ('typed_pack', models.CharField(max_length=60)),
                ('price', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('supplier_code', models.CharField(blank=True, max_length=60, verbose_name="supplier's article number")),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('pack_quantity__gt', 0), ('packs__gt', 0)), name='order_line_orders_something'), models.CheckConstraint(condition=models.Q(('price__isnull', True), ('price__gte', 0), _connector='OR'), name='order_price_is_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='Closing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('through', models.DateField(unique=True)),
                ('until', models.DateTimeField()),
                ('reason', models.CharField(max_length=300)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-until'],
                'constraints': [models.CheckConstraint(condition=models.Q(('until__lte', models.F('at'))), name='closing_of_the_past')],
            },
        ),
        migrations.CreateModel(
            name='ClosedStock',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('closing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stock', to='inventory.closing')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('quantity', studio.fields.ExactIntegerField()),
                ('value', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('closing', 'item'), name='closed_stock_once_for_an_item')],
            },
        ),
        migrations.CreateModel(
            name='Reason',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('scrap', 'Scrap'), ('sample', 'Sample'), ('sent_back', 'Back to supplier'), ('found', 'Found'), ('correction', 'Quantity put right'), ('count', 'Count')], max_length=12)),
                ('words', models.CharField(max_length=80)),
                ('retired', models.BooleanField(default=False, help_text='Stays on what was posted and is no longer offered.')),
            ],
            options={
                'ordering': ['kind', django.db.models.functions.text.Lower('words')],
                'constraints': [models.UniqueConstraint(models.F('kind'), django.db.models.functions.text.Lower('words'), name='reason_words_once', violation_error_message='This reason is on the list already.')],
            },
        ),
        migrations.CreateModel(
            name='Posting',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('receipt', 'Receipt'), ('decant', 'Decanting'), ('draw', 'Draw'), ('yield', 'Yield'), ('dispatch', 'Dispatch'), ('return', 'Return'), ('scrap', 'Scrap'), ('sample', 'Sample'), ('sent_back', 'Back to supplier'), ('found', 'Found'), ('correction', 'Quantity put right'), ('count', 'Count'), ('opening', 'Opening stock'), ('earlier', 'From earlier records'), ('revaluation', 'Cost correction'), ('reversal', 'Reversal')], max_length=12)),
                ('happened_at', models.DateTimeField()),
                ('recorded_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='postings', to=settings.AUTH_USER_MODEL)),
                ('reason', models.CharField(blank=True, max_length=300)),
                ('reverses', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reversal', to='inventory.posting')),
            ],
            options={
                'ordering': ['-happened_at', '-pk'],
                'indexes': [models.Index(fields=['happened_at', 'id'], name='posting_happened_at')],
                'constraints': [models.CheckConstraint(condition=models.Q(('happened_at__lte', models.F('recorded_at'))), name='posting_not_before_it_happened'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'reversal'), ('reverses__isnull', False)), models.Q(models.Q(('kind', 'reversal'), _negated=True), ('reverses__isnull', True)), _connector='OR'), name='posting_reversal_names_what_it_reverses')],
            },
        ),
        migrations.CreateModel(
            name='Delivery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='deliveries', to='inventory.supplier')),
                ('reference', models.CharField(blank=True, max_length=60, verbose_name='invoice or delivery note')),
                ('freight', studio.fields.ExactIntegerField(default=0)),
                ('spread', models.CharField(choices=[('value', 'by what the lines cost'), ('weight', 'by weight (every line must be weighed)')], default='value', max_length=6)),
                ('posting', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='delivery', to='inventory.posting')),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('freight__gte', 0)), name='freight_is_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='DeliveryLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('delivery', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.delivery')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='delivery_lines', to='inventory.item')),
                ('order_line', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='arrivals', to='inventory.orderline')),
                ('packs', models.PositiveIntegerField(default=1)),
                ('pack_quantity', studio.fields.ExactIntegerField()),
                ('typed_quantity', models.CharField(max_length=60)),
                ('typed_price', models.CharField(max_length=60)),
                ('goods_value', studio.fields.ExactIntegerField()),
                ('freight_value', studio.fields.ExactIntegerField(default=0)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='LateCost',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('delivery', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='late_costs', to='inventory.delivery')),
                ('posting', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='late_cost', to='inventory.posting')),
                ('amount', studio.fields.ExactIntegerField()),
                ('spread', models.CharField(choices=[('value', 'by what the lines cost'), ('weight', 'by weight (every line must be weighed)')], max_length=6)),
                ('reference', models.CharField(blank=True, max_length=60, verbose_name='invoice or credit note')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('amount', 0), _negated=True), name='late_cost_is_not_nothing')],
            },
        ),
        migrations.CreateModel(
            name='Lot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=12, unique=True)),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.item')),
                ('grade', models.CharField(choices=[('first', 'First quality'), ('second', 'Seconds')], default='first', max_length=6)),
                ('supplier', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.supplier')),
                ('supplier_lot', models.CharField(blank=True, max_length=60, verbose_name="supplier's lot")),
                ('delivery_line', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.deliveryline')),
                ('arrived_at', models.DateTimeField()),
                ('expires_on', models.DateField(blank=True, null=True, verbose_name='expires')),
                ('ready_on', models.DateField(blank=True, null=True)),
                ('place', models.CharField(blank=True, max_length=60)),
                ('container', models.CharField(blank=True, help_text='What it stands in, for example jar 3 or 25 lb pail.', max_length=40)),
                ('tare_ug', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='tare')),
                ('opened_on', models.DateField(blank=True, null=True, verbose_name='opened')),
                ('held', models.BooleanField(default=False)),
                ('awaits_release', models.BooleanField(default=False)),
                ('allowed_until', models.DateField(blank=True, null=True)),
                ('on_hand', studio.fields.ExactIntegerField(default=0)),
                ('value', studio.fields.ExactIntegerField(default=0)),
            ],
            options={
                'ordering': ['-arrived_at', '-pk'],
                'indexes': [models.Index(condition=models.Q(('on_hand__gt', 0)), fields=['item', 'expires_on'], name='lot_on_shelf'), models.Index(fields=['arrived_at', 'id'], name='lot_arrived_at'), models.Index(condition=models.Q(('supplier_lot', ''), _negated=True), fields=['supplier_lot'], name='lot_by_supplier_lot')],
                'constraints': [models.CheckConstraint(condition=models.Q(('on_hand__gte', 0)), name='lot_never_below_zero'), models.CheckConstraint(condition=models.Q(('value__gte', 0)), name='lot_value_never_below_zero'), models.CheckConstraint(condition=models.Q(('on_hand__gt', 0), ('value', 0), _connector='OR'), name='empty_lot_is_worth_nothing')],
            },
        ),
        migrations.CreateModel(
            name='HoldRecord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hold_records', to='inventory.lot')),
                ('held', models.BooleanField()),
                ('owner_decides', models.BooleanField(default=False)),
                ('reason', models.TextField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Override',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='overrides', to='inventory.lot')),
                ('until', models.DateField(blank=True, null=True)),
                ('reason', models.TextField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='LotChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to='inventory.lot')),
                ('what', models.CharField(max_length=30)),
                ('before', models.CharField(blank=True, max_length=80)),
                ('after', models.CharField(blank=True, max_length=80)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Movement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.posting')),
                ('lot', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.lot')),
                ('kind', models.CharField(choices=[('received', 'Received'), ('made', 'Made'), ('found', 'Found'), ('decanted', 'Decanted'), ('drawn', 'Drawn'), ('dispatched', 'Dispatched'), ('returned', 'Came back'), ('scrapped', 'Scrapped'), ('sampled', 'Sampled'), ('sent_back', 'Sent back'), ('corrected', 'Put right'), ('counted', 'Count difference'), ('revalued', 'Cost corrected')], max_length=10)),
                ('quantity', studio.fields.ExactIntegerField()),
                ('value', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pk'],
                'indexes': [models.Index(fields=['lot', 'posting'], name='movement_of_lot'), models.Index(condition=models.Q(('kind', 'found')), fields=['posting'], name='movement_found')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('quantity', 0), _negated=True), models.Q(('value', 0), _negated=True), _connector='OR'), name='movement_moves_something')],
            },
        ),
        migrations.CreateModel(
            name='PeriodCost',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='period_costs', to='inventory.posting')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='period_costs', to='inventory.lot')),
                ('value', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='OverrideUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='override_uses', to='inventory.posting')),
                ('override', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='inventory.override')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('posting', 'override'), name='override_use_once')],
            },
        ),
        migrations.CreateModel(
            name='StoppedUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stopped_uses', to='inventory.posting')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stopped_uses', to='inventory.lot')),
                ('stop', models.CharField(choices=[('held', 'on hold'), ('expired', 'past its expiry'), ('curing', 'still curing'), ('unreleased', 'not yet released')], max_length=10)),
                ('reason', models.CharField(max_length=300)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('posting', 'lot'), name='stopped_use_once'), models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='stopped_use_says_why')],
            },
        ),
        migrations.CreateModel(
            name='Review',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='review', to='inventory.posting')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='Commitment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('source', models.CharField(db_index=True, max_length=40)),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='commitments', to='inventory.item')),
                ('quantity', studio.fields.ExactIntegerField()),
                ('needed_on', models.DateField()),
            ],
            options={
                'ordering': ['needed_on', 'pk'],
                'constraints': [models.UniqueConstraint(fields=('source', 'item'), name='commitment_once_per_source_and_item'), models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='commitment_is_positive')],
            },
        ),
        migrations.CreateModel(
            name='CountClass',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('letter', models.CharField(max_length=1, unique=True)),
                ('share_ppm', studio.fields.ExactIntegerField()),
                ('times_a_year', models.PositiveSmallIntegerField()),
                ('tolerance_ppm', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['letter'],
                'constraints': [models.CheckConstraint(condition=models.Q(('letter__in', ('A', 'B', 'C')), ('share_ppm__gte', 0), ('share_ppm__lte', 1000000), ('times_a_year__gte', 1), ('times_a_year__lte', 52), ('tolerance_ppm__gte', 0), ('tolerance_ppm__lte', 1000000)), name='count_class_is_possible')],
            },
        ),
        migrations.CreateModel(
            name='Count',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('scope', models.CharField(choices=[('everything', 'Everything on the shelf'), ('place', 'One shelf or place'), ('class', 'One class, by yearly value'), ('item', 'One item')], max_length=10)),
                ('of', models.CharField(blank=True, max_length=120)),
                ('blind', models.BooleanField(default=False)),
                ('state', models.CharField(choices=[('open', 'Being counted'), ('posted', 'In the books'), ('called_off', 'Called off')], default='open', max_length=10)),
                ('started_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('started_at', models.DateTimeField()),
                ('posting', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='count', to='inventory.posting')),
                ('ended_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'ordering': ['-started_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('state', 'open'), ('ended_at__isnull', False), _connector='OR'), name='count_ended_says_when')],
            },
        ),
        migrations.CreateModel(
            name='CountLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('count', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.count')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='count_lines', to='inventory.lot')),
                ('counted', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('typed', models.CharField(blank=True, max_length=60)),
                ('gross_ug', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('tare_ug', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('counted_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('first_counted', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('looked_twice', models.BooleanField(default=False)),
                ('tolerance_ppm', studio.fields.ExactIntegerField(blank=True, null=True)),
                ('reason', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.reason')),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('count', 'lot'), name='count_line_once_per_lot'), models.CheckConstraint(condition=models.Q(('counted__isnull', True), ('counted__gte', 0), _connector='OR'), name='count_line_not_below_zero'), models.CheckConstraint(condition=models.Q(('counted__isnull', True), models.Q(('by__isnull', False), ('counted_at__isnull', False), ('tolerance_ppm__isnull', False)), _connector='OR'), name='count_line_says_when')],
            },
        ),
        migrations.CreateModel(
            name='Channel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('retired', models.BooleanField(default=False, help_text='Stays on what was sent and is no longer offered.')),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('name')],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='dispatch_channel_name_once', violation_error_message='A channel of this name exists already.')],
            },
        ),
        migrations.CreateModel(
            name='Customer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(blank=True, max_length=120)),
                ('contact', models.CharField(blank=True, max_length=120, verbose_name='whom to ask for')),
                ('reach', models.TextField(blank=True, max_length=500, verbose_name='how to reach them')),
                ('is_person', models.BooleanField(default=True, verbose_name='a private person')),
                ('added_at', models.DateTimeField()),
                ('erased_at', models.DateTimeField(blank=True, null=True)),
                ('erased_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('name'), 'pk'],
                'indexes': [models.Index(django.db.models.functions.text.Lower('name'), name='customer_by_name')],
                'constraints': [models.CheckConstraint(condition=models.Q(('erased_at__isnull', True), models.Q(('contact', ''), ('name', ''), ('reach', '')), _connector='OR'), name='customer_erased_has_nothing_personal'), models.CheckConstraint(condition=models.Q(('erased_at__isnull', False), models.Q(('name', ''), _negated=True), _connector='OR'), name='customer_has_a_name')],
            },
        ),
        migrations.CreateModel(
            name='Dispatch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='dispatch', to='inventory.posting')),
                ('kind', models.CharField(choices=[('sale', 'Sale'), ('wholesale', 'Wholesale'), ('event', 'Event order'), ('sample', 'Sample'), ('gift', 'Gift'), ('replacement', 'Replacement')], default='sale', max_length=12)),
                ('customer', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='dispatches', to='inventory.customer')),
                ('channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='dispatches', to='inventory.channel')),
                ('reference', models.CharField(blank=True, max_length=60, verbose_name='order reference')),
            ],
            options={
                'ordering': ['-pk'],
                'indexes': [models.Index(condition=models.Q(('reference', ''), _negated=True), fields=['reference'], name='dispatch_by_reference')],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ('sale', 'wholesale', 'event', 'sample', 'gift', 'replacement'))), name='dispatch_kind_is_known')],
            },
        ),
        migrations.CreateModel(
            name='DispatchChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('dispatch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to='inventory.dispatch')),
                ('what', models.CharField(max_length=30)),
                ('before', models.CharField(blank=True, max_length=80)),
                ('after', models.CharField(blank=True, max_length=80)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Return',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='goods_return', to='inventory.posting')),
                ('dispatch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='returns', to='inventory.dispatch')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='ReturnLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('goods_return', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.return')),
                ('source', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='came_back_as', to='inventory.lot')),
                ('lot', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='came_back_from', to='inventory.lot')),
                ('quantity', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='return_line_brings_something'), models.CheckConstraint(condition=models.Q(('source', models.F('lot')), _negated=True), name='return_line_is_a_lot_of_its_own')],
            },
        ),
        migrations.CreateModel(
            name='Retention',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('months', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('set_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='retention_is_one_row'), models.CheckConstraint(condition=models.Q(('months__isnull', True), ('months__range', (1, 240)), _connector='OR'), name='retention_is_possible')],
            },
        ),
        migrations.CreateModel(
            name='Document',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='documents', to='inventory.item')),
                ('lot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='documents', to='inventory.lot')),
                ('kind', models.CharField(choices=[('safety', 'Safety data sheet'), ('ifra', 'IFRA certificate'), ('analysis', 'Certificate of analysis'), ('photo', 'Photo'), ('other', 'Other paper')], max_length=8)),
                ('dated_on', models.DateField(blank=True, null=True, verbose_name='date on it')),
                ('valid_until', models.DateField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=120)),
                ('name', models.CharField(max_length=120)),
                ('media_type', models.CharField(max_length=40)),
                ('size', models.PositiveIntegerField()),
                ('digest', models.CharField(max_length=64)),
                ('added_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('added_at', models.DateTimeField()),
                ('withdrawn', models.BooleanField(default=False)),
                ('erased', models.BooleanField(default=False)),
            ],
            options={
                'ordering': ['-added_at', '-pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ('safety', 'ifra', 'analysis', 'photo', 'other'))), name='document_kind_is_known'), models.UniqueConstraint(condition=models.Q(('erased', False), ('lot__isnull', True)), fields=('item', 'digest'), name='document_once_on_an_item'), models.UniqueConstraint(condition=models.Q(('erased', False)), fields=('lot', 'digest'), name='document_once_on_a_lot')],
            },
        ),
        migrations.CreateModel(
            name='DocumentContent',
            fields=[
                ('document', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='content', serialize=False, to='inventory.document')),
                ('data', models.BinaryField()),
            ],
        ),
        migrations.CreateModel(
            name='DocumentRecord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('document', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='records', to='inventory.document')),
                ('what', models.CharField(choices=[('withdrawn', 'Withdrawn'), ('put_back', 'Put back'), ('erased', 'Erased')], max_length=10)),
                ('reason', models.CharField(blank=True, max_length=300)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Import',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('table', models.CharField(choices=[('items', 'Items'), ('suppliers', 'Suppliers'), ('offers', 'Offers'), ('lots', 'Opening lots'), ('movements', 'Past movements')], max_length=10)),
                ('name', models.CharField(max_length=120, verbose_name='file')),
                ('rows', models.PositiveIntegerField()),
                ('added', models.PositiveIntegerField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='WaitingTable',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('table', models.CharField(choices=[('items', 'Items'), ('suppliers', 'Suppliers'), ('offers', 'Offers'), ('lots', 'Opening lots'), ('movements', 'Past movements')], max_length=10)),
                ('name', models.CharField(max_length=120, verbose_name='file')),
                ('content', models.BinaryField()),
                ('choices', models.JSONField(default=dict)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='ImportedRow',
            fields=[
                ('key', models.CharField(max_length=64, primary_key=True, serialize=False)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='imported_rows', to='inventory.import')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='imported_rows', to='inventory.posting')),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='imported_rows', to='inventory.lot')),
            ],
        ),
        migrations.CreateModel(
            name='PackContent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pack_contents', to='inventory.supplier')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pack_contents', to='inventory.item')),
                ('word', models.CharField(max_length=12)),
                ('quantity', studio.fields.ExactIntegerField()),
                ('said_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('said_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['said_at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='pack_content_is_positive')],
            },
        ),
        migrations.CreateModel(
            name='LabelLayout',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('page_width_um', studio.fields.ExactIntegerField(verbose_name='page width')),
                ('page_height_um', studio.fields.ExactIntegerField(verbose_name='page height')),
                ('rows', models.PositiveSmallIntegerField(default=1)),
                ('columns', models.PositiveSmallIntegerField(default=1)),
                ('left_um', studio.fields.ExactIntegerField(default=0, verbose_name='left margin')),
                ('top_um', studio.fields.ExactIntegerField(default=0, verbose_name='top margin')),
                ('label_width_um', studio.fields.ExactIntegerField(verbose_name='label width')),
                ('label_height_um', studio.fields.ExactIntegerField(verbose_name='label height')),
                ('gap_x_um', studio.fields.ExactIntegerField(default=0, verbose_name='gap across')),
                ('gap_y_um', studio.fields.ExactIntegerField(default=0, verbose_name='gap down')),
                ('is_default', models.BooleanField(default=False, verbose_name='usual')),
                ('retired', models.BooleanField(default=False, help_text='Kept and no longer offered for printing.')),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('name')],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='label_layout_name_once', violation_error_message='A layout of this name exists already.'), models.UniqueConstraint(condition=models.Q(('is_default', True)), fields=('is_default',), name='label_layout_one_usual'), models.CheckConstraint(condition=models.Q(('columns__gte', 1), ('label_height_um__gt', 0), ('label_width_um__gt', 0), ('rows__gte', 1)), name='label_layout_has_labels')],
            },
        ),
        migrations.CreateModel(
            name='ReorderRules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('service_ppm', studio.fields.ExactIntegerField(default=950000, verbose_name='service level')),
                ('window_days', models.PositiveSmallIntegerField(default=90, verbose_name='days looked back')),
                ('carrying_ppm', studio.fields.ExactIntegerField(default=200000, verbose_name='a year on the shelf costs')),
                ('order_cost', studio.fields.ExactIntegerField(blank=True, null=True, verbose_name='placing an order costs')),
                ('horizon_days', models.PositiveSmallIntegerField(default=120, verbose_name='days looked ahead')),
                ('set_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('set_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='reorder_rules_are_one_row'), models.CheckConstraint(condition=models.Q(('carrying_ppm__gte', 0), ('carrying_ppm__lte', 2000000), ('horizon_days__gte', 28), ('horizon_days__lte', 365), ('service_ppm__gte', 500000), ('service_ppm__lte', 999900), ('window_days__gte', 14), ('window_days__lte', 365)), name='reorder_rules_are_possible'), models.CheckConstraint(condition=models.Q(('order_cost__isnull', True), ('order_cost__gte', 0), _connector='OR'), name='order_cost_is_not_negative')],
            },
        ),
        migrations.CreateModel(
            name='OneOff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='one_off_records', to='inventory.posting')),
                ('is_one_off', models.BooleanField()),
                ('reason', models.CharField(max_length=300)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='CustomerOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=12, unique=True)),
                ('customer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='inventory.customer')),
                ('channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='inventory.channel')),
                ('reference', models.CharField(blank=True, max_length=60, verbose_name='order reference')),
                ('wanted_on', models.DateField(verbose_name='wanted on')),
                ('state', models.CharField(choices=[('open', 'Open'), ('sent', 'Sent'), ('called_off', 'Called off')], default='open', max_length=10)),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('taken_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('taken_at', models.DateTimeField()),
                ('closed_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('closed_reason', models.CharField(blank=True, max_length=300)),
            ],
            options={
                'ordering': ['wanted_on', 'pk'],
                'indexes': [models.Index(fields=['state', 'wanted_on'], name='customer_order_by_day')],
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ('open', 'sent', 'called_off'))), name='customer_order_state_is_known'), models.CheckConstraint(condition=models.Q(models.Q(('closed_at__isnull', True), ('state', 'open')), models.Q(models.Q(('state', 'open'), _negated=True), ('closed_at__isnull', False)), _connector='OR'), name='customer_order_closed_says_when')],
            },
        ),
        migrations.CreateModel(
            name='CustomerOrderLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.customerorder')),
                ('item', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='customer_order_lines', to='inventory.item')),
                ('quantity', studio.fields.ExactIntegerField()),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('order', 'item'), name='customer_order_item_once'), models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='customer_order_line_wants_something')],
            },
        ),
        migrations.CreateModel(
            name='OrderDispatch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='dispatches', to='inventory.customerorder')),
                ('dispatch', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='for_order', to='inventory.dispatch')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Shop',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60)),
                ('columns', models.JSONField(default=dict)),
                ('channel', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='shops', to='inventory.channel')),
                ('becomes', models.CharField(choices=[('order', 'Orders to be sent from here'), ('sent', 'Dispatches: they have left already')], default='order', max_length=5)),
                ('days', models.CharField(blank=True, max_length=5)),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('name')],
                'constraints': [models.UniqueConstraint(django.db.models.functions.text.Lower('name'), name='shop_name_once', violation_error_message='A shop of this name is here already.'), models.CheckConstraint(condition=models.Q(('becomes__in', ('order', 'sent'))), name='shop_becomes_is_known')],
            },
        ),
        migrations.CreateModel(
            name='ShopProduct',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='products', to='inventory.shop')),
                ('words', models.CharField(max_length=200)),
                ('item', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.item')),
                ('pieces', models.PositiveSmallIntegerField(default=1)),
            ],
            options={
                'ordering': [django.db.models.functions.text.Lower('words')],
                'constraints': [models.UniqueConstraint(models.F('shop'), models.F('words'), name='shop_product_once'), models.CheckConstraint(condition=models.Q(('pieces__range', (1, 1000))), name='shop_product_has_pieces')],
            },
        ),
        migrations.CreateModel(
            name='ShopOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='came_in', to='inventory.shop')),
                ('reference', models.CharField(max_length=60)),
                ('digest', models.CharField(max_length=64)),
                ('order', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='from_shop', to='inventory.customerorder')),
                ('dispatch', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='from_shop', to='inventory.dispatch')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-pk'],
                'constraints': [models.UniqueConstraint(fields=('shop', 'reference'), name='shop_order_once'), models.CheckConstraint(condition=models.Q(models.Q(('dispatch__isnull', True), ('order__isnull', False)), models.Q(('dispatch__isnull', False), ('order__isnull', True)), _connector='OR'), name='shop_order_became_something')],
            },
        ),
        migrations.CreateModel(
            name='WaitingOrders',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='waiting', to='inventory.shop')),
                ('name', models.CharField(max_length=120, verbose_name='file')),
                ('content', models.BinaryField()),
                ('choices', models.JSONField(default=dict)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('at', models.DateTimeField()),
            ],
            options={
                'ordering': ['-at', '-pk'],
            },
        ),
    ])]
