"""Costing: what batches cost, and the rates they cost it by."""

from django.urls import path

from costing.actual import views as views_runs
from costing.contribution import views as views_earnings
from costing.new_products import views as views_scenarios
from costing.prices import views as views_prices
from costing.prices import views_channels
from costing.rates import views as views_rates
from costing.standard import views as views_standards
from costing.valuation import views as views_goods
from costing.variances import views as views_variances

app_name = "costing"
urlpatterns = [
    path("", views_runs.overview, name="overview"),
    path("products/", views_standards.product_list, name="product-list"),
    path("products/<int:pk>/", views_standards.cost_sheet, name="cost-sheet"),
    path("products/<int:pk>/work/", views_standards.work_standard, name="work-standard"),
    path("variances/", views_variances.variance_list, name="variance-list"),
    path("variances/<str:code>/", views_variances.batch_variance, name="batch-variance"),
    path("rates/", views_rates.rates, name="rates"),
    path("rates/labor/", views_rates.labour_rate_add, name="labour-rate-add"),
    path("channels/", views_channels.channel_list, name="channel-list"),
    path("channels/add/", views_channels.channel_add, name="channel-add"),
    path("channels/price-points/", views_channels.price_points, name="price-points"),
    path("channels/<int:pk>/", views_channels.channel_detail, name="channel-detail"),
    path("channels/<int:pk>/change/", views_channels.channel_change, name="channel-change"),
    path("channels/<int:pk>/terms/", views_channels.channel_terms_add, name="channel-terms-add"),
    path("rates/overhead/", views_rates.overhead_rate_add, name="overhead-rate-add"),
    path("rates/paid/", views_rates.overhead_paid_add, name="overhead-paid-add"),
    path("stock/", views_goods.stock_value, name="stock-value"),
    path("stock/items/<int:pk>/", views_goods.stock_value_item, name="stock-value-item"),
    path("cost-of-goods/", views_goods.cost_of_goods_page, name="cost-of-goods"),
    path("cost-of-goods/paper/", views_goods.cost_of_goods_paper, name="cost-of-goods-paper"),
    path("cost-of-goods/methods/", views_goods.method_comparison, name="method-comparison"),
    path("cost-of-goods/rules/", views_goods.goods_rules, name="goods-rules"),
    path("cost-of-goods/rules/add/", views_goods.goods_rule_add, name="goods-rule-add"),
    path("closings/", views_goods.closing_list, name="closing-list"),
    path("closings/<int:pk>/", views_goods.closing_detail, name="closing-detail"),
    path("contribution/", views_earnings.earning_list, name="earning-list"),
    path("prices/", views_prices.price_list, name="price-list"),
    path("prices/list.pdf", views_prices.price_paper, name="price-paper"),
    path("prices/<int:pk>/", views_prices.product_prices, name="product-prices"),
    path("prices/<int:pk>/ask/", views_prices.asked_price_add, name="asked-price-add"),
    path("prices/<int:pk>/margin/", views_earnings.product_sensitivity, name="product-sensitivity"),
    path("new-products/", views_scenarios.scenario_list, name="scenario-list"),
    path("new-products/add/", views_scenarios.scenario_add, name="scenario-add"),
    path("new-products/compare/", views_scenarios.scenario_compare, name="scenario-compare"),
    path("new-products/<int:pk>/", views_scenarios.scenario_detail, name="scenario-detail"),
    path("new-products/<int:pk>/make/", views_scenarios.scenario_make, name="scenario-make"),
    path("new-products/<int:pk>/archive/", views_scenarios.scenario_put_away, name="scenario-put-away"),
]
