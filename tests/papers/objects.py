"""Papers of a lot at the inspection bench, printed here and now as a worker would."""

from shopflow.floor.models import Paper
from shopflow.floor.queries import standing_at
from shopflow.inspection import actions as inspection
from shopflow.papers import actions
from shopflow.records import files, work
from shopflow.workflow import actions as workflow
from tests.floor.objects import op
from tests.inspection.objects import at_the_bench, balloon
from tests.objects import makes, makes_all
from tests.programs.objects import everyone_at_once


def printed(paper):
    done = work.run(paper.work_id, actions.print_paper, save=actions.keep_paper)
    assert done is not None and not done.error, done
    paper.refresh_from_db()
    return paper


def bytes_of(paper):
    with files.open_file(paper.stored) as stream:
        return stream.read()


def a_measured_lot(person, *, bores=("10.01", "10.02", "10.03"), quantity=3):
    """A lot with both balloons of each piece measured; it still stands at the bench."""
    lot = at_the_bench(everyone_at_once(person), quantity=quantity)
    for piece, bore in enumerate(bores, start=1):
        inspection.measure(balloon(lot, 1), lot, piece, bore, by=person)
        inspection.measure(balloon(lot, 2), lot, piece, "1.500", by=person)
    return lot


def ready_to_ship(person, **changes):
    lot = a_measured_lot(person, **changes)
    inspection.pass_pieces(lot, op(lot, 40), standing_at(lot, op(lot, 40)), by=person)
    return lot


def shipped(person, quantity=2, **changes):
    """A shipment of some pieces of a lot, whose papers are asked for and not printed yet."""
    lot = ready_to_ship(person, **changes)
    return workflow.ship(lot.job, lot, quantity, by=person, note="one box")


def paper_of(shipment, kind):
    return printed(shipment.papers.get(kind=kind))


@makes("paper_id")
def the_id_of_a_paper(everybody):
    lot = at_the_bench(everybody["lead"])
    return actions.ask(lot.job, Paper.Kind.FIRST_ARTICLE, by=everybody["lead"], lot=lot, chosen={"piece": 1}).pk


@makes_all("papers:ask")
def a_lot_to_ask_about(everybody):
    return {"job_id": at_the_bench(everybody["lead"]).job_id, "kind": "inspection"}
