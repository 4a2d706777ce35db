"""The only writes of this app: intake (order, files, model, questions) and plan."""

from shopflow.jobs.actions.files import add_file, ask_reading
from shopflow.jobs.actions.intake import OrderLine, change_order, receive_material, take_in
from shopflow.jobs.actions.model import choose_solid, confirm_unit, read_model
from shopflow.jobs.actions.questions import answer_question, ask_question

__all__ = [
    "OrderLine",
    "add_file",
    "answer_question",
    "ask_question",
    "ask_reading",
    "change_order",
    "choose_solid",
    "confirm_unit",
    "read_model",
    "receive_material",
    "take_in",
]
