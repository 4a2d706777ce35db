"""The shop's tables: what the pages, the files and the ledger call each, who may change it, and what a list shows."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import models
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from shopflow.people.access import Act
from shopflow.shop.fields import MeasureField
from shopflow.shop.forms import (
    ClosedDayForm,
    CuttingDataForm,
    FixtureForm,
    GaugeForm,
    HolderForm,
    MachineForm,
    MaterialForm,
    RowForm,
    StockBarForm,
    ToolForm,
)
from shopflow.shop.rows import (
    ClosedDays,
    Cutting,
    Fixtures,
    Gauges,
    Holders,
    Kind,
    Machines,
    Materials,
    StockBars,
    Tools,
)

Fieldset = tuple[str | Promise, str]
"""Its legend and the names of its fields, separated by spaces."""


@dataclass(frozen=True)
class Table:
    """key: in addresses. kind: what actions and the ledger need. shown: fields of the list, the first names the row."""

    key: str
    kind: Kind
    form: type[RowForm]
    title: str | Promise
    add_word: str | Promise
    shown: tuple[str, ...]
    empty: str | Promise
    fieldsets: tuple[Fieldset, ...] = ()

    @property
    def model(self) -> type[models.Model]:
        return self.kind.model

    @property
    def columns(self) -> tuple[str, ...]:
        """Headings of the CSV file: the field names, the same in every language."""
        return tuple(self.form._meta.fields or ())

    @property
    def has_lengths(self) -> bool:
        return any(isinstance(field, MeasureField) for field in self.model._meta.fields)

    @property
    def act(self) -> Act:
        return self.kind.act


FIELDSETS: dict[str, tuple[Fieldset, ...]] = {
    "crib": (
        (_("What it is"), "number name shape material coating diameter flutes"),
        (_("Its end"), "corner_radius point_angle tip_diameter pitch set_from set_to centre_cutting through_coolant"),
        (_("Its lengths"), "flute_length stickout neck_diameter shank_diameter holder"),
        (_("How it is used"), "max_rpm on_hand uses note"),
        (_("How long it lasts"), "life life_unit life_used edge"),
    ),
    "machines": (
        (_("The machine"), "name control carousel through_coolant note"),
        (_("Travel"), "travel_x travel_y travel_z"),
        (_("Rapids and feed"), "rapid_x rapid_y rapid_z max_feed acceleration tool_change_s"),
        (_("Spindle"), "min_rpm max_rpm power_kw power_curve spindle_start_s"),
        (_("Names of its files"), "name_by_number name_length name_ending first_number last_number"),
        (_("What stands in them"), "line_ends percent_signs comment_length own_comments_plain memory_bytes"),
    ),
    "cutting": (
        (_("What it holds for"), "number group tool_material coating diameter uses"),
        (_("Surface speed"), "speed_low speed_usual speed_high speed_unit"),
        (_("Feed a tooth; a turn for drills, taps and reamers"), "feed_low feed_usual feed_high"),
        (_("Coolant"), "coolant"),
        (_("Why"), "reason"),
    ),
    "rack": (
        (_("What it is"), "number material shape cold_finished remnant"),
        (_("Its sizes"), "thickness width length minus kerf"),
        (_("On the rack"), "on_hand heat_number place owner for_job price note"),
    ),
}
"""Of the forms that are too long for one list; the others are one."""

ROWS = (
    ("crib", Tools, ToolForm, _("Tools"), _("Add a tool"),
     "number name shape diameter material flute_length stickout holder on_hand edge",
     _("Programs call tools by number: a review can only judge those that stand here.")),
    ("holders", Holders, HolderForm, _("Holders"), _("Add a holder"),
     "name profile",
     _("A holder's profile lets a review see when it comes too near.")),
    ("machines", Machines, MachineForm, _("Machines"), _("Add a machine"),
     "name travel_x travel_y travel_z max_rpm max_feed power_kw carousel control",
     _("A setup needs a machine, and a review its travel, speeds and feeds.")),
    ("materials", Materials, MaterialForm, _("Materials"), _("Add a material"),
     "name group density unit_power needs_heat_number source",
     _("A job needs its material for mass, for speeds and for what the review allows.")),
    ("cutting", Cutting, CuttingDataForm, _("Speeds & feeds"), _("Add a speed or feed"),
     "number group tool_material uses diameter speed_usual speed_unit feed_usual coolant reason",
     _("Plans and reviews use published tables until this shop says what it found to be right.")),
    ("fixtures", Fixtures, FixtureForm, _("Soft jaws & fixtures"), _("Add jaws or a fixture"),
     "number kind name shelf program recuts_left note",
     _("Jaws and fixtures that are kept are found again when their part is ordered again.")),
    ("rack", StockBars, StockBarForm, _("Rack"), _("Add a bar or plate"),
     "number material shape thickness width length on_hand heat_number place price",
     _("Plans saw blanks from what stands here, and from sizes that the shop buys.")),
    ("gauges", Gauges, GaugeForm, _("Gauges"), _("Add a gauge"),
     "number name resolution smallest largest calibrated_until note",
     _("A measurement counts when its gauge is in calibration: start with the micrometers and calipers.")),
    ("closed_days", ClosedDays, ClosedDayForm, _("Closed days"), _("Add closed days"),
     "name day last note",
     _("Holidays and other days off. Which weekdays are worked stands under The shop.")),
)  # fmt: skip
"""key, kind, form, title, add_word; the fields of the list; what an empty one says."""

TABLES = {
    key: Table(key, kind, form, title, add_word, tuple(shown.split()), empty, FIELDSETS.get(key, ()))
    for key, kind, form, title, add_word, shown, empty in ROWS
}
