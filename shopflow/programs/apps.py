from django.apps import AppConfig


class ProgramsConfig(AppConfig):
    name = "shopflow.programs"

    def ready(self) -> None:
        from shopflow.jobs import learned
        from shopflow.programs import actions, queries, trials
        from shopflow.programs.stock_asked import SIMULATION
        from shopflow.records import work
        from shopflow.shop import changes
        from shopflow.shop import learned as shop_learned

        work.register(actions.REVIEW, "shopflow.programs.tasks.review_program")
        work.register(actions.COMPARE, "shopflow.programs.tasks.compare_programs")
        work.register(trials.TRIAL, "shopflow.programs.tasks.try_edits")
        work.register(SIMULATION, "shopflow.programs.tasks.remove_material")
        changes.listen(actions.note_changes)
        learned.listen(queries.learned_for)
        shop_learned.listen(queries.told_of)
