from django.urls import path

from shopflow.shop import control_views, cutting_views, rule_views, views
from shopflow.shop.tables import TABLES

app_name = "shop"
urlpatterns = [
    path("house-rules/", rule_views.house_rules, name="house_rules"),
    path("house-rules/<slug:rule_key>/", rule_views.house_rule, name="house_rule"),
    path("cutting-defaults/", cutting_views.defaults, name="cutting_defaults"),
    path("tool-edge/<int:row_id>/", views.tool_edge, name="tool_edge"),
    path("facts/", rule_views.facts, name="facts"),
    path("controls/", control_views.controls, name="controls"),
    path("control-file/", control_views.read, name="control_read"),
    path("controls/<slug:name>/", control_views.control, name="control"),
    path("controls/<slug:name>/copy/", control_views.copy, name="control_copy"),
    path("controls/<slug:name>/change/", control_views.change, name="control_change"),
    path("controls/<slug:name>/remove/", control_views.remove, name="control_remove"),
    path("controls/<slug:name>/file/", control_views.file, name="control_file"),
]
for key in TABLES:
    urlpatterns += [
        path(f"{key}/", views.table, {"key": key}, name=key),
        path(f"{key}/add/", views.add, {"key": key}, name=f"{key}_add"),
        path(f"{key}/<int:row_id>/", views.row, {"key": key}, name=f"{key}_row"),
        path(f"{key}/<int:row_id>/remove/", views.remove, {"key": key}, name=f"{key}_remove"),
        path(f"{key}/csv/", views.csv_out, {"key": key}, name=f"{key}_csv"),
        path(f"{key}/csv/read/", views.csv_in, {"key": key}, name=f"{key}_read"),
    ]
