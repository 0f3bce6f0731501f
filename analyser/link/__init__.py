"""The radio link of one flight: fades, losses, and what each antenna received. Start at :func:`analyse_link`."""

from analyser.link.analysis import LinkResult, ReceiverResult, analyse_link

__all__ = ["LinkResult", "ReceiverResult", "analyse_link"]
