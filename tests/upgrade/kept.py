"""The database of an earlier version as a small file that every kind of database can be filled from.

NAME.tar.gz holds rows.json ({"migrations": [[app, last migration] …], "rows": {"app.model": [{column: value} …]}}) and
the stored files under their hashes. Only the tables of the shop's own apps; sessions and the like are nobody's data.
"""

import hashlib
import io
import json
import tarfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from shopflow.records.models import StoredFile
from shopflow.records.places import place

STATES = Path(__file__).parent / "states"
PLAIN = (type(None), bool, int, float, str, list, dict)


@dataclass(frozen=True)
class State:
    """migrations: (app, name) of each app's last. rows: by model label. files: bytes by hash."""

    migrations: list
    rows: dict
    files: dict

    def count(self):
        return Counter({label: len(rows) for label, rows in self.rows.items()})


def names():
    return sorted(path.name.removesuffix(".tar.gz") for path in STATES.glob("*.tar.gz"))


def plain(row):
    """A row as JSON values by column: times to the microsecond, decimals and lengths as text."""
    return {field.attname: _plain(field, row) for field in row._meta.concrete_fields}


def _plain(field, row):
    value = field.value_from_object(row)
    return value if type(value) in PLAIN else field.value_to_string(row)


def models_of(registry):
    """The models of the shop's own apps, the tables between two of them included."""
    own = {config.label for config in apps.get_app_configs() if config.name.startswith("shopflow.")}
    return [model for model in registry.get_models(include_auto_created=True) if model._meta.app_label in own]


def keep(name):
    """Write the database and the files of the shop that Django is set up for."""
    rows = {model._meta.label_lower: [plain(row) for row in model._base_manager.all()] for model in models_of(apps)}
    record = {
        "migrations": sorted(MigrationLoader(connection).graph.leaf_nodes()),
        "rows": {label: found for label, found in rows.items() if found},
    }
    STATES.mkdir(exist_ok=True)
    path = STATES / f"{name}.tar.gz"
    with tarfile.open(path, "w:gz") as archive:
        _add(archive, "rows.json", json.dumps(record, ensure_ascii=False, separators=(",", ":")).encode())
        for sha256 in StoredFile.objects.filter(withdrawal=None).values_list("sha256", flat=True):
            with place().open(sha256) as handle:
                _add(archive, f"files/{sha256}", handle.read())
    return path


def _add(archive, name, data):
    entry = tarfile.TarInfo(name)
    entry.size = len(data)
    archive.addfile(entry, io.BytesIO(data))


def read(name):
    with tarfile.open(STATES / f"{name}.tar.gz") as archive:
        found = {entry.name: archive.extractfile(entry).read() for entry in archive}
    record = json.loads(found.pop("rows.json"))
    files = {path.removeprefix("files/"): data for path, data in found.items()}
    return State([tuple(one) for one in record["migrations"]], record["rows"], files)


def fill(state):
    """Bring an empty database to the state's migrations and put its rows in, through the models of that time."""
    executor = MigrationExecutor(connection)
    historical = executor.migrate(state.migrations).apps
    filled = [historical.get_model(label) for label in state.rows]
    with transaction.atomic():  # rows refer to one another in every direction: asked at the commit
        for model in filled:
            _insert(model, state.rows[model._meta.label_lower])
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), filled):
            cursor.execute(statement)
    for data in state.files.values():
        _store(data)


def _insert(model, rows):
    for field in model._meta.concrete_fields:
        if getattr(field, "auto_now_add", False):
            field.auto_now_add = False  # the time when it happened, not when the test ran
    by_column = {field.attname: field for field in model._meta.concrete_fields}
    made = [model(**{name: by_column[name].to_python(value) for name, value in row.items()}) for row in rows]
    model._base_manager.bulk_create(made)


def _store(data):
    with place().incoming() as incoming:
        incoming.write(data)
        incoming.keep_as(hashlib.sha256(data).hexdigest())
