"""The only writes of this app: intake (order, files, model, questions) and plan."""

from shopflow.jobs.actions.buying import count_on, drop_order, order_tool, put_in_crib, receive_tool
from shopflow.jobs.actions.characteristics import CharacteristicLine, place_balloon, save_characteristics, take_offers
from shopflow.jobs.actions.comparing import ask_comparison, compare_models
from shopflow.jobs.actions.drawing import ask_drawing, draw_again, draw_ahead, draw_views, lines_of
from shopflow.jobs.actions.files import add_file, ask_reading, read_outdated, remake_picture
from shopflow.jobs.actions.from_file import take_setups
from shopflow.jobs.actions.intake import (
    OrderLine,
    change_customer,
    change_order,
    compare_print_and_model,
    receive_material,
    take_in,
)
from shopflow.jobs.actions.laying import lay_together
from shopflow.jobs.actions.lengths import typed_place
from shopflow.jobs.actions.model import choose_solid, confirm_unit, note_reading, read_model
from shopflow.jobs.actions.operations import add_operation, change_operation, move_operation, remove_operation
from shopflow.jobs.actions.plan import approve_plan, bring_back, propose_plan
from shopflow.jobs.actions.questions import answer_question, ask_question, ask_substitution
from shopflow.jobs.actions.repeat import copy_plan
from shopflow.jobs.actions.sawing import saw, saw_all
from shopflow.jobs.actions.setups import (
    add_setup,
    add_tool,
    add_touch,
    change_setup,
    drop_tool,
    drop_touch,
    release_fields,
    remove_setup,
)
from shopflow.jobs.actions.steps import add_step, change_step, move_step, remove_step
from shopflow.jobs.actions.stock import count_in, give_back, receive_bars, return_drops, supply_blanks, take_stock
from shopflow.jobs.actions.times import note_set_up_taken, note_time_taken

__all__ = [
    "count_on",
    "drop_order",
    "order_tool",
    "put_in_crib",
    "receive_tool",
    "note_set_up_taken",
    "note_time_taken",
    "add_operation",
    "change_operation",
    "move_operation",
    "remove_operation",
    "CharacteristicLine",
    "OrderLine",
    "add_file",
    "add_setup",
    "add_step",
    "add_tool",
    "add_touch",
    "answer_question",
    "approve_plan",
    "ask_comparison",
    "ask_drawing",
    "ask_question",
    "ask_reading",
    "ask_substitution",
    "place_balloon",
    "copy_plan",
    "count_in",
    "give_back",
    "receive_bars",
    "return_drops",
    "saw",
    "saw_all",
    "lay_together",
    "supply_blanks",
    "take_stock",
    "bring_back",
    "change_customer",
    "change_order",
    "change_setup",
    "typed_place",
    "change_step",
    "choose_solid",
    "compare_models",
    "compare_print_and_model",
    "confirm_unit",
    "draw_again",
    "draw_ahead",
    "note_reading",
    "draw_views",
    "lines_of",
    "drop_tool",
    "drop_touch",
    "move_step",
    "propose_plan",
    "read_model",
    "read_outdated",
    "receive_material",
    "release_fields",
    "remake_picture",
    "remove_setup",
    "remove_step",
    "save_characteristics",
    "take_in",
    "take_offers",
    "take_setups",
]
