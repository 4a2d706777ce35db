from django.urls import path

from shopflow.programs.views import came_in, deciding, editing, files, lessons, parts, review, signing, uploads, zero

app_name = "programs"
urlpatterns = [
    path("came-in/", came_in.came_in, name="came_in"),
    path("lessons/", lessons.lessons, name="lessons"),
    path("lessons/<int:lesson_id>/retire/", lessons.retire, name="retire_lesson"),
    path("job/<int:job_id>/", uploads.program_list, name="list"),
    path("job/<int:job_id>/upload/", uploads.upload, name="upload"),
    path("job/<int:job_id>/repeat/<int:revision_id>/", uploads.repeat, name="repeat"),
    path("job/<int:job_id>/sign-off/", signing.sign_off_all, name="sign_off_all"),
    path("<int:revision_id>/", review.revision, name="revision"),
    path("<int:revision_id>/lines/", review.lines, name="lines"),
    path("<int:revision_id>/findings/", review.findings, name="findings"),
    path("<int:revision_id>/work/", review.work, name="work"),
    path("<int:revision_id>/removal/", review.removal, name="removal"),
    path("<int:revision_id>/zero/<int:setup_id>/", zero.zero, name="zero"),
    path("<int:revision_id>/stock/<int:offset>/", files.stock, name="stock"),
    path("<int:revision_id>/stock/<int:offset>/<int:number>/", files.stock_stretch, name="stock_stretch"),
    path("<int:revision_id>/deviation/<int:offset>/", files.deviation, name="deviation"),
    path("<int:revision_id>/rules/", review.rule_set, name="rule_set"),
    path("<int:revision_id>/again/", review.again, name="again"),
    path("<int:revision_id>/decide/", deciding.decide, name="decide"),
    path("<int:revision_id>/edits/", editing.edits, name="edits"),
    path("<int:revision_id>/parts/", parts.parts, name="parts"),
    path("<int:revision_id>/since/<int:base_id>/", review.difference, name="difference"),
    path("<int:revision_id>/sign-off/", signing.sign_off, name="sign_off"),
    path("<int:revision_id>/file/", files.file, name="file"),
    path("<int:revision_id>/made-with/", uploads.made_with, name="made_with"),
    path("<int:revision_id>/setup-file/", files.setup_file, name="setup_file"),
    path("<int:revision_id>/path/<int:offset>/", files.drawing, name="path"),
]
