"""Every address of the site; who may open which is in people.page_access."""

from django.urls import include, path

urlpatterns = [
    path("", include("shopflow.workflow.urls")),
    path("people/", include("shopflow.people.urls")),
    path("shop/", include("shopflow.shop.urls")),
    path("jobs/", include("shopflow.jobs.urls")),
    path("programs/", include("shopflow.programs.urls")),
    path("floor/", include("shopflow.floor.urls")),
    path("inspection/", include("shopflow.inspection.urls")),
    path("papers/", include("shopflow.papers.urls")),
]
