"""Reading back what was printed: the text and the pages of a PDF, by a library that had no part in making it."""

import pypdfium2

__all__ = ["page_sizes", "pages_of", "text_of"]


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page, with single spaces, as a viewer copies it."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    finally:
        document.close()


def text_of(pdf: bytes) -> str:
    """The text of all pages."""
    return " ".join(pages_of(pdf))


def page_sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page, in points."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [document.get_page_size(number) for number in range(len(document))]
    finally:
        document.close()
