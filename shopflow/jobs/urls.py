from django.urls import path

from shopflow.jobs.views import intake, orders

app_name = "jobs"
urlpatterns = [
    path("", orders.job_list, name="list"),
    path("new/", orders.new, name="new"),
    path("<int:job_id>/edit/", orders.edit, name="edit"),
    path("<int:job_id>/intake/", intake.intake, name="intake"),
    path("<int:job_id>/upload/", intake.upload, name="upload"),
    path("<int:job_id>/model/", intake.model, name="model"),
    path("<int:job_id>/mesh/", intake.mesh, name="mesh"),
    path("<int:job_id>/files/<int:file_id>/", intake.file, name="file"),
    path("<int:job_id>/unit/", intake.confirm_unit, name="confirm_unit"),
    path("<int:job_id>/solid/", intake.choose_solid, name="choose_solid"),
    path("<int:job_id>/questions/", intake.questions, name="questions"),
    path("<int:job_id>/questions/<int:question_id>/", intake.answer, name="answer"),
    path("<int:job_id>/material/", intake.material, name="material"),
]
