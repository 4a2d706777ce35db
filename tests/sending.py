"""Forms as a browser sends them."""


def as_sent(form):
    """Everything that a page's form would send if nobody touched it, with what it was shown with (people.seen)."""
    typed = {form.seen_name: form.seen_state} if hasattr(form, "seen_name") else {}
    for bound in form:
        value = bound.value()
        if isinstance(value, list) or (value not in (None, "") and value is not False):
            typed[bound.html_name] = value if isinstance(value, list) else bound.field.prepare_value(value)
    return typed
