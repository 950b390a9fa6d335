"""Photos: taken in from pages and phones, shown to members, taken away by a planner."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.cache import get_conditional_response

from takeoff.people.permissions import PLAN, SEE, SiteRequest, machine, needs
from takeoff.people.sending import post_only, way_back
from takeoff.photos.errors import PhotoError
from takeoff.photos.forms import PhotoForm, RemoveForm
from takeoff.photos.models import Photo
from takeoff.photos.on_disk import place_of
from takeoff.photos.pictures import MOST_BYTES, made_small
from takeoff.photos.services import keep_photo, remove_photo


@machine
@needs(SEE)
def photos(request: SiteRequest) -> HttpResponse:
    """Take a photo in. A script is answered in JSON; a page's form, which says where to go `next`, goes there."""
    if request.method != "POST":
        return JsonResponse({"error": "Send photos by POST."}, status=405)
    answer, uuid, said = _taken_in(request)
    if "next" in request.POST:
        for sentence in said or ["The photo is kept."]:
            (messages.error if answer == "refused" else messages.success)(request, sentence)
        return _back(request)
    status = 422 if answer == "refused" else 200
    return JsonResponse({"id": uuid, "answer": answer, "said": said}, status=status)


@needs(SEE)
def photo(request: SiteRequest, uuid: UUID) -> HttpResponse:
    """Show a photo as it is kept."""
    return _shown(request, uuid, small=False)


@needs(SEE)
def small_photo(request: SiteRequest, uuid: UUID) -> HttpResponse:
    """Show a photo small, as a page shows it among others."""
    return _shown(request, uuid, small=True)


@needs(PLAN)
@post_only("photo", "uuid")
def remove(request: SiteRequest, uuid: UUID) -> HttpResponse:
    """Take a photo away, for a reason."""
    found = get_object_or_404(Photo.objects.of(request.site), uuid=uuid)
    form = RemoveForm(request.POST)
    if form.is_valid():
        remove_photo(photo=found, reason=form.cleaned_data["reason"], by=request.user)
        messages.success(request, "The photo is taken away. Who took it away and why stays on record.")
    else:
        for error in form.errors["reason"]:
            messages.error(request, f"The photo stays. {error}")
    return _back(request)


def _taken_in(request: SiteRequest) -> tuple[str, str, list[str]]:
    """Return what became of the photo in a request, its id, and what is to be said."""
    form = PhotoForm(request.POST, request.FILES)
    if not form.is_valid():
        return "refused", request.POST.get("id", ""), form.said
    sent = form.cleaned_data
    try:
        kept = keep_photo(
            site=request.site,
            by=request.user,
            kind=sent["kind"],
            record=sent["record"],
            content=sent["file"].read(MOST_BYTES + 1),
            uuid=sent["id"],
            device_at=sent["device_at"],
        )
    except PhotoError as error:
        return "refused", str(sent["id"] or ""), [str(error)]
    gone = getattr(kept.photo, "removed", None)
    said = [f"This photo was kept before and taken away: {gone.reason}"] if gone else []
    return "known" if kept.known else "kept", str(kept.photo.uuid), said


def _shown(request: SiteRequest, uuid: UUID, *, small: bool) -> HttpResponse:
    found = get_object_or_404(Photo.objects.of(request.site).filter(removed=None), uuid=uuid)
    etag = f'"{found.sha256}{"-small" * small}"'
    response = get_conditional_response(request, etag=etag)
    if response is None:
        try:
            jpeg = place_of(request.site.pk, uuid).read_bytes()
        except FileNotFoundError as error:
            raise Http404("its file is not there") from error
        response = HttpResponse(made_small(jpeg) if small else jpeg, content_type="image/jpeg")
        response["Content-Disposition"] = f'inline; filename="{uuid}.jpg"'
    response["ETag"] = etag
    response["Cache-Control"] = "private"
    return response


def _back(request: SiteRequest) -> HttpResponseRedirect:
    return HttpResponseRedirect(way_back(request, reverse("today", args=[request.site.slug])))
