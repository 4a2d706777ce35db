"""The people and the small crib of the browser tests, put straight into the running shop's database."""

import json

PASSWORD = "seven brass fittings"

MAKE_SHOP = f"""
import json
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.auth.hashers import make_password
from django.contrib.sessions.backends.db import SessionStore
from shopflow.people.models import Role, RoleGrant, User
from shopflow.shop.models import Machine, Material, Tool
sessions, password = {{}}, make_password({PASSWORD!r})
for role in Role.values:
    person, _ = User.objects.get_or_create(username="t_" + role, defaults={{"full_name": "Test " + role}})
    person.password = password
    person.save()
    RoleGrant.objects.get_or_create(user=person, role=role)
for person in User.objects.filter(is_active=True):
    session = SessionStore()
    session.update({{
        SESSION_KEY: str(person.pk), HASH_SESSION_KEY: person.get_session_auth_hash(),
        BACKEND_SESSION_KEY: "django.contrib.auth.backends.ModelBackend",
    }})
    session.create()
    sessions[person.username.removeprefix("t_")] = session.session_key
Machine.objects.get_or_create(name="Test mill", defaults=dict(travel_x="900 mm", travel_y="500 mm", travel_z="450 mm"))
Material.objects.get_or_create(name="Test aluminium", defaults=dict(group="aluminium", density=2700))
for number, name, shape, diameter in (
    (901, "50 mm face mill", "face mill", "50 mm"), (902, "12 mm end mill", "flat end mill", "12 mm"),
    (903, "M20 tap", "tap", "20 mm"),
):
    Tool.objects.get_or_create(
        number=number,
        defaults=dict(name=name, shape=shape, diameter=diameter, flute_length="40 mm", stickout="60 mm"),
    )
print(json.dumps(sessions))
"""


def make_shop(live_shop):
    """The people and things are there; keys of sessions, as after a log-in, by role and by the demo's user names."""
    return json.loads(live_shop.python(MAKE_SHOP).splitlines()[-1])


def let_in(page, live_shop, session):
    """A page of somebody who has logged in before; for tests that are about something else."""
    page.context.add_cookies([{"name": "sessionid", "value": session, "url": live_shop.address}])
    return page


def log_in(page, role):
    """Log in as the test person of a role, on a page of their own."""
    page.goto("/people/log-in/")
    page.fill("[name=username]", f"t_{role}")
    page.fill("[name=password]", PASSWORD)
    page.click("main button[type=submit]")
    page.wait_for_url("**/")
    return page
