"""The PDF library, held to printing one run of text as one run.

Left to itself it cuts text again wherever a joiner or a combining mark stands, so that Sinhala conjuncts and letters
with marks fall apart. Order and fonts are settled before (``canvas``, ``typeface``); here one run stays one fragment.
"""

from collections.abc import Sequence

from fpdf import FPDF
from fpdf.enums import TextDirection
from fpdf.fonts import TTFFont
from fpdf.line_break import Fragment

__all__ = ["OneRunPdf"]


class OneRunPdf(FPDF):
    """Prints each text as one run in the font that is set."""

    def shape(self, wanted: bool, *, backward: bool) -> None:
        """Switch the shaping engine for the runs that follow; ``backward`` reads from right to left."""
        self.set_text_shaping(use_shaping_engine=wanted)
        if self.text_shaping is not None:
            self.text_shaping["fragment_direction"] = TextDirection.RTL if backward else TextDirection.LTR

    def one_run(self, text: str, width: float, height: float, *, spoken: str) -> None:
        """Print a run at the present place.

        Args:
            text: What is printed.
            width: Its width.
            height: Its size.
            spoken: What is searched, copied and read aloud instead; "" leaves that to the letters printed.
        """
        if spoken:
            self._out(f"/Span <</ActualText <feff{spoken.encode('utf-16-be').hex()}>>> BDC")
        self.cell(w=width, h=height, text=text)
        if spoken:
            self._out("EMC")

    def close_fonts(self) -> None:
        """Close the font files; nothing can be printed after that."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.ttfont.close()

    def _preload_bidirectional_text(self, text: str, markdown: bool) -> Sequence[Fragment]:  # noqa: ARG002  - the library's own signature
        return (Fragment(text, self._get_current_graphics_state(), self.k),)
