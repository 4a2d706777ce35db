from django.urls import path

from shopflow.jobs.views import intake, orders, plan, setups

app_name = "jobs"
urlpatterns = [
    path("", orders.job_list, name="list"),
    path("new/", orders.new, name="new"),
    path("<int:job_id>/edit/", orders.edit, name="edit"),
    path("<int:job_id>/intake/", intake.intake, name="intake"),
    path("<int:job_id>/upload/", intake.upload, name="upload"),
    path("<int:job_id>/model/", intake.model, name="model"),
    path("<int:job_id>/model/changes/", intake.changes, name="changes"),
    path("<int:job_id>/mesh/", intake.mesh, name="mesh"),
    path("<int:job_id>/files/<int:file_id>/mesh/", intake.model_mesh, name="model_mesh"),
    path("<int:job_id>/files/<int:file_id>/", intake.file, name="file"),
    path("<int:job_id>/unit/", intake.confirm_unit, name="confirm_unit"),
    path("<int:job_id>/solid/", intake.choose_solid, name="choose_solid"),
    path("<int:job_id>/questions/", intake.questions, name="questions"),
    path("<int:job_id>/questions/<int:question_id>/", intake.answer, name="answer"),
    path("<int:job_id>/material/", intake.material, name="material"),
    path("<int:job_id>/plan/", plan.plan, name="plan"),
    path("<int:job_id>/plan/propose/", plan.propose, name="propose"),
    path("<int:job_id>/plan/bring-back/", plan.bring_back, name="bring_back"),
    path("<int:job_id>/plan/approve/", plan.approve_plan, name="approve_plan"),
    path("<int:job_id>/plan/steps/", plan.add_step, name="add_step"),
    path("<int:job_id>/plan/setups/", setups.add_setup, name="add_setup"),
    path("<int:job_id>/characteristics/", plan.characteristics, name="characteristics"),
    path("<int:job_id>/characteristics/offers/", plan.take_offers, name="take_offers"),
    path("customers/<int:customer_id>/", orders.customer, name="customer"),
    path("steps/<int:step_id>/", plan.step, name="step"),
    path("steps/<int:step_id>/move/", plan.move_step, name="move_step"),
    path("steps/<int:step_id>/remove/", plan.remove_step, name="remove_step"),
    path("setups/<int:setup_id>/", setups.setup, name="setup"),
    path("setups/<int:setup_id>/remove/", setups.remove_setup, name="remove_setup"),
    path("setups/<int:setup_id>/release/", setups.release_fields, name="release_fields"),
    path("setups/<int:setup_id>/tools/", setups.tools, name="tools"),
    path("setups/<int:setup_id>/touches/", setups.touches, name="touches"),
]
