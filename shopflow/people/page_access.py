"""The one table of which page needs what, and the middleware that asks it.

PAGES says for each address what looking at it (GET) and sending to it (POST) needs, in the words of `access`; an
address that is not listed answers to nobody. A test walks it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from shopflow.people.access import Act, may, require
from shopflow.people.models import User


@dataclass(frozen=True)
class Page:
    """What an address needs: `see` for GET, `send` for POST; None where the method is not answered."""

    see: Act | None = Act.SEE
    send: Act | None = None


PAGES: dict[str, Page] = {
    # people
    "people:log_in": Page(Act.OPEN, Act.OPEN),
    "people:log_out": Page(None, Act.OPEN),
    "people:station_log_in": Page(Act.OPEN, Act.OPEN),
    "people:me": Page(Act.SEE),
    "people:my_units": Page(None, Act.SEE),
    "people:my_password": Page(None, Act.SEE),
    "people:my_pin": Page(None, Act.SEE),
    "people:list": Page(Act.SEE),
    "people:add": Page(Act.EDIT_PEOPLE, Act.EDIT_PEOPLE),
    "people:edit": Page(Act.EDIT_PEOPLE, Act.EDIT_PEOPLE),
    "people:give_password": Page(None, Act.EDIT_PEOPLE),
    "people:issue_badge": Page(None, Act.EDIT_PEOPLE),
    "people:take_badge": Page(None, Act.EDIT_PEOPLE),
    # shop: each table has the same six addresses
    "shop:crib": Page(Act.SEE),
    "shop:crib_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:crib_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:crib_remove": Page(None, Act.EDIT_SHOP),
    "shop:crib_csv": Page(Act.SEE),
    "shop:tool_edge": Page(None, Act.RUN),
    "shop:crib_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:holders": Page(Act.SEE),
    "shop:holders_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:holders_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:holders_remove": Page(None, Act.EDIT_SHOP),
    "shop:holders_csv": Page(Act.SEE),
    "shop:holders_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:machines": Page(Act.SEE),
    "shop:machines_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:machines_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:machines_remove": Page(None, Act.EDIT_SHOP),
    "shop:machines_csv": Page(Act.SEE),
    "shop:machines_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:materials": Page(Act.SEE),
    "shop:materials_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:materials_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:materials_remove": Page(None, Act.EDIT_SHOP),
    "shop:materials_csv": Page(Act.SEE),
    "shop:materials_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:cutting": Page(Act.SEE),
    "shop:cutting_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:cutting_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:cutting_remove": Page(None, Act.EDIT_SHOP),
    "shop:cutting_csv": Page(Act.SEE),
    "shop:cutting_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:cutting_defaults": Page(Act.SEE),
    "shop:closed_days": Page(Act.SEE),
    "shop:closed_days_add": Page(Act.EDIT_RULES, Act.EDIT_RULES),
    "shop:closed_days_row": Page(Act.EDIT_RULES, Act.EDIT_RULES),
    "shop:closed_days_remove": Page(None, Act.EDIT_RULES),
    "shop:closed_days_csv": Page(Act.SEE),
    "shop:closed_days_read": Page(Act.EDIT_RULES, Act.EDIT_RULES),
    "shop:fixtures": Page(Act.SEE),
    "shop:fixtures_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:fixtures_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:fixtures_remove": Page(None, Act.EDIT_SHOP),
    "shop:fixtures_csv": Page(Act.SEE),
    "shop:fixtures_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:rack": Page(Act.SEE),
    "shop:rack_add": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:rack_row": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:rack_remove": Page(None, Act.EDIT_SHOP),
    "shop:rack_csv": Page(Act.SEE),
    "shop:rack_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:gauges": Page(Act.SEE),
    "shop:gauges_add": Page(Act.EDIT_GAUGES, Act.EDIT_GAUGES),
    "shop:gauges_row": Page(Act.EDIT_GAUGES, Act.EDIT_GAUGES),
    "shop:gauges_remove": Page(None, Act.EDIT_GAUGES),
    "shop:gauges_csv": Page(Act.SEE),
    "shop:gauges_read": Page(Act.EDIT_GAUGES, Act.EDIT_GAUGES),
    "shop:house_rules": Page(Act.SEE),
    "shop:house_rule": Page(None, Act.EDIT_RULES),
    "shop:controls": Page(Act.SEE),
    "shop:control": Page(Act.SEE),
    "shop:control_copy": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:control_change": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:control_remove": Page(None, Act.EDIT_SHOP),
    "shop:control_file": Page(Act.SEE),
    "shop:control_read": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "shop:facts": Page(Act.EDIT_PEOPLE, Act.EDIT_PEOPLE),
    # jobs
    "jobs:list": Page(Act.SEE),
    "jobs:new": Page(Act.EDIT_JOB, Act.EDIT_JOB),
    "jobs:customer": Page(Act.EDIT_JOB, Act.EDIT_JOB),
    "jobs:edit": Page(Act.EDIT_JOB, Act.EDIT_JOB),
    "jobs:intake": Page(Act.SEE),
    "jobs:upload": Page(None, Act.EDIT_JOB),
    "jobs:model": Page(Act.SEE, Act.EDIT_JOB),
    "jobs:mesh": Page(Act.SEE),
    "jobs:model_mesh": Page(Act.SEE),
    "jobs:faces": Page(Act.SEE),
    "jobs:changes": Page(Act.SEE),
    "jobs:views": Page(Act.SEE, Act.EDIT_JOB),
    "jobs:views_svg": Page(Act.SEE),
    "jobs:file": Page(Act.SEE),
    "jobs:confirm_unit": Page(None, Act.EDIT_JOB),
    "jobs:choose_solid": Page(None, Act.EDIT_JOB),
    "jobs:questions": Page(Act.SEE, Act.EDIT_JOB),
    "jobs:answer": Page(None, Act.EDIT_JOB),
    "jobs:material": Page(None, Act.EDIT_JOB),
    "jobs:print_and_model": Page(None, Act.EDIT_JOB),
    "jobs:plan": Page(Act.SEE),
    "jobs:propose": Page(None, Act.PLAN),
    "jobs:bring_back": Page(None, Act.PLAN),
    "jobs:approve_plan": Page(None, Act.PLAN),
    "jobs:add_step": Page(None, Act.PLAN),
    "jobs:add_setup": Page(None, Act.PLAN),
    "jobs:from_file": Page(Act.PLAN, Act.PLAN),
    "jobs:repeat": Page(Act.SEE, Act.PLAN),
    "jobs:balloons": Page(Act.SEE, Act.PLAN),
    "jobs:balloons_svg": Page(Act.SEE),
    "jobs:stock": Page(Act.SEE),
    "jobs:take_stock": Page(None, Act.PLAN),
    "jobs:give_back": Page(None, Act.PLAN),
    "jobs:supplied": Page(None, Act.EDIT_JOB),
    "jobs:counted": Page(None, Act.EDIT_JOB),
    "jobs:drops": Page(None, Act.EDIT_JOB),
    "jobs:instead": Page(None, Act.EDIT_JOB),
    "jobs:pick_here": Page(None, Act.EDIT_JOB),
    "jobs:pick_sawn": Page(None, Act.RUN),
    "jobs:saw_list": Page(Act.SEE),
    "jobs:bar_sawn": Page(None, Act.RUN),
    "jobs:lay_together": Page(None, Act.PLAN),
    "jobs:characteristics": Page(Act.SEE, Act.PLAN),
    "jobs:take_offers": Page(None, Act.PLAN),
    "jobs:step": Page(Act.PLAN, Act.PLAN),
    "jobs:move_step": Page(None, Act.PLAN),
    "jobs:remove_step": Page(None, Act.PLAN),
    "jobs:setup": Page(Act.SEE, Act.PLAN),
    "jobs:remove_setup": Page(None, Act.PLAN),
    "jobs:release_fields": Page(None, Act.PLAN),
    "jobs:add_operation": Page(None, Act.PLAN),
    "jobs:operation": Page(Act.SEE, Act.PLAN),
    "jobs:move_operation": Page(None, Act.PLAN),
    "jobs:remove_operation": Page(None, Act.PLAN),
    "jobs:to_buy": Page(Act.SEE),
    "jobs:order_tool": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "jobs:count_on_tool": Page(None, Act.COUNT_ON_ORDER),
    "jobs:drop_tool_order": Page(None, Act.EDIT_SHOP),
    "jobs:crib_tool": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "jobs:receive_tool": Page(Act.EDIT_SHOP, Act.EDIT_SHOP),
    "jobs:tools": Page(None, Act.PLAN),
    "jobs:touches": Page(None, Act.PLAN),
    # floor
    "floor:stations": Page(Act.SEE),
    "floor:station": Page(Act.SEE),
    "floor:op": Page(Act.SEE),
    "floor:start": Page(None, Act.MEASURE),
    "floor:report": Page(None, Act.MEASURE),
    "floor:send_back": Page(Act.SEE, Act.READ_BACK),
    "floor:read_backs": Page(Act.SEE, Act.READ_BACK),
    "floor:read_back": Page(Act.SEE),
    "floor:read_back_work": Page(Act.SEE),
    "floor:read_back_accept": Page(None, Act.ACCEPT_CHANGE),
    "floor:read_back_judge": Page(None, Act.JUDGE_READ_BACK),
    "floor:read_back_file": Page(Act.SEE),
    "floor:photo": Page(None, Act.RUN),
    "floor:as_run_of_job": Page(Act.SEE),
    "floor:as_run_photo": Page(Act.SEE),
    "floor:scan": Page(Act.SEE),
    "floor:copy": Page(Act.SEE),
    "floor:scanned": Page(Act.SEE),
    "floor:worker": Page(Act.SEE),
    "floor:away": Page(Act.SEE),
    # inspection
    "inspection:bench": Page(Act.SEE),
    "inspection:lot": Page(Act.SEE),
    "inspection:measure": Page(None, Act.MEASURE),
    "inspection:gauge": Page(None, Act.MEASURE),
    "inspection:found": Page(None, Act.MEASURE),
    "inspection:pass": Page(None, Act.MEASURE),
    "inspection:place": Page(None, Act.MEASURE),
    "inspection:sampling": Page(Act.SEE, Act.DISPOSE),
    "inspection:dispose": Page(None, Act.DISPOSE),
    # papers
    "papers:traveler": Page(Act.SEE),
    "papers:work": Page(Act.SEE),
    "papers:scan_traveler": Page(Act.SEE),
    "papers:ask": Page(None, Act.MEASURE),
    "papers:paper": Page(Act.SEE),
    "papers:paper_work": Page(Act.SEE),
    "papers:again": Page(None, Act.MEASURE),
    "papers:scan": Page(Act.SEE),
    # workflow
    "workflow:home": Page(Act.SEE),
    "workflow:changes": Page(Act.SEE),
    "workflow:search": Page(Act.SEE),
    "workflow:strip": Page(Act.SEE),
    "workflow:job": Page(Act.SEE),
    "workflow:gate": Page(Act.SEE),
    "workflow:history": Page(Act.SEE),
    "workflow:advance": Page(None, Act.HOLD),
    "workflow:hold": Page(None, Act.HOLD),
    "workflow:resume": Page(None, Act.HOLD),
    "workflow:packet": Page(None, Act.RELEASE),
    "workflow:ship": Page(None, Act.SHIP),
    "workflow:take_back": Page(None, Act.SHIP),
    # programs
    "programs:came_in": Page(Act.SEE),
    "programs:lessons": Page(Act.SEE, Act.KEEP_LESSON),
    "programs:retire_lesson": Page(None, Act.KEEP_LESSON),
    "programs:list": Page(Act.SEE),
    "programs:upload": Page(Act.UPLOAD_PROGRAM, Act.UPLOAD_PROGRAM),
    "programs:repeat": Page(None, Act.UPLOAD_PROGRAM),
    "programs:revision": Page(Act.SEE),
    "programs:lines": Page(Act.SEE),
    "programs:rule_set": Page(Act.SEE),
    "programs:findings": Page(Act.SEE),
    "programs:work": Page(Act.SEE),
    "programs:removal": Page(Act.SEE),
    "programs:zero": Page(Act.SEE, Act.PLAN),
    "programs:stock": Page(Act.SEE),
    "programs:stock_stretch": Page(Act.SEE),
    "programs:deviation": Page(Act.SEE),
    "programs:again": Page(None, Act.DECIDE),
    "programs:decide": Page(None, Act.DECIDE),
    "programs:edits": Page(Act.SEE, Act.UPLOAD_PROGRAM),
    "programs:difference": Page(Act.SEE),
    "programs:parts": Page(Act.SEE, Act.UPLOAD_PROGRAM),
    "programs:sign_off": Page(Act.SEE, Act.SIGN_OFF),
    "programs:sign_off_all": Page(Act.SEE, Act.SIGN_OFF),
    "programs:file": Page(Act.SEE),
    "programs:made_with": Page(None, Act.UPLOAD_PROGRAM),
    "programs:setup_file": Page(Act.SEE),
    "programs:path": Page(Act.SEE),
}

OWN_PASSWORD_PAGES = frozenset({"people:me", "people:my_password", "people:log_out"})
"""All that somebody with a password given by another may open."""


def may_open(user: User | AnonymousUser, name: str) -> bool:
    """Whether a link to a page may be shown to this person. name: a key of PAGES."""
    act = PAGES[name].see
    return act is not None and may(user, act)


class PageAccessMiddleware:
    """Asks PAGES for every request before its view runs."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponse | None:
        """Refuse what the table does not allow; anonymous people are sent to log in by LoginRequiredMiddleware."""
        name = request.resolver_match.view_name if request.resolver_match else ""
        page = PAGES.get(name)
        if page is None:
            raise PermissionDenied(_("This page is not in the table of access."))
        act = page.see if request.method in ("GET", "HEAD") else page.send
        if act is None or request.method not in ("GET", "HEAD", "POST"):
            allowed = [method for method, needed in (("GET", page.see), ("POST", page.send)) if needed]
            return HttpResponseNotAllowed(allowed)
        if act is Act.OPEN or not request.user.is_authenticated:
            return None
        require(request.user, act)
        if request.user.password_is_temporary and name not in OWN_PASSWORD_PAGES:
            return redirect("people:me")
        return None
