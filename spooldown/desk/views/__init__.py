"""The screens of the desk, one module a subject: what each request shows or changes.

A module lists its addresses as ``ROUTES``, a list of :class:`starlette.routing.Route`, and is named in
:data:`spooldown.desk.application.VIEWS`. A view opens the logbook with ``desk_of(request).book()``, reads a form with
``await form_of(request)`` (which checks its token), answers with ``shown(request, "NAME.html", …)``, and after a change
sends the browser on with ``to("/…")``. Heavy imports belong inside the functions, or the
module into :data:`spooldown.desk.application.LATER`: the desk must open at once.
"""
