"""A form that our own page sent: where it came from, how large it is, and what stands in it."""

from http import HTTPStatus
from urllib.parse import parse_qsl

from starlette.requests import Request

from riskboard.app.address import Address

__all__ = ["FormError", "read_form"]

_FORM = "application/x-www-form-urlencoded"


class FormError(Exception):
    """A form that is none of ours."""

    def __init__(self, status: HTTPStatus, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


async def read_form(request: Request, address: Address, *, most_bytes: int, most_fields: int) -> list[tuple[str, str]]:
    """Names and values in the order of the form; a name may come more than once.

    Raises:
        FormError: Another site sent it, it is too large, or it is no form.
    """
    origin, site = request.headers.get("origin"), request.headers.get("sec-fetch-site")
    own = (
        address.is_own_origin(origin, request.headers.get("host", "")) if origin is not None else site == "same-origin"
    )
    if not own:
        raise FormError(
            HTTPStatus.FORBIDDEN,
            "That form came from another site, or this page is reached under another address than the server knows "
            "(behind a proxy: start it with --public-url). Nothing was done.",
        )
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != _FORM:
        raise FormError(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "That was no form of this page. Nothing was done.")
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > most_bytes:
            raise FormError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "That was too much text. Nothing was done.")
    try:
        return parse_qsl(body.decode("ascii"), keep_blank_values=True, max_num_fields=most_fields)
    except ValueError as error:
        raise FormError(HTTPStatus.BAD_REQUEST, "That was no form of this page. Nothing was done.") from error
