"""The one error of starting a shop."""


class Refused(Exception):
    """The shop cannot be started; the text says why and what to do."""
