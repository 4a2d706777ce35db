"""Reports from the floor. Each is one transaction: the ledger row, then the pieces; a key sent twice counts once."""

from shopflow.floor.actions.pieces import add, bring_back, hold, lose, note, rework, scrap, send_outside, split
from shopflow.floor.actions.releases import make_packet, put_on_floor
from shopflow.floor.actions.reports import NotNow
from shopflow.floor.actions.runs import SETUP_CHECKS, accept_first_piece, count_good, finish, sign_edges, start
from shopflow.floor.actions.setting_up import begin_setting_up
from shopflow.floor.actions.shipping import ship, take_back
from shopflow.floor.moving import NotThere

__all__ = [
    "NotNow",
    "NotThere",
    "SETUP_CHECKS",
    "accept_first_piece",
    "add",
    "begin_setting_up",
    "bring_back",
    "count_good",
    "finish",
    "hold",
    "lose",
    "make_packet",
    "note",
    "put_on_floor",
    "rework",
    "scrap",
    "send_outside",
    "ship",
    "sign_edges",
    "split",
    "start",
    "take_back",
]
