"""A work order on a terminal, as an HTML page and as a PDF."""

from strutsweep.setting_up.printed.page import html_fragment, html_page
from strutsweep.setting_up.printed.paper import write_pdf
from strutsweep.setting_up.printed.terminal import print_order, terminal_text

__all__ = ["html_fragment", "html_page", "print_order", "terminal_text", "write_pdf"]
