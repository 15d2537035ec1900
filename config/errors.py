"""What a rule raises when somebody can be told what to do about it."""

from typing import Any


class DomainError(ValueError):
    """A refusal with a stable slug, a sentence for the person, and the field it is about.

    `slug` names the row in `config.problems`; `pointer` is a JSON pointer as URI fragment
    (RFC 6901, section 6), such as `#/outline`.
    """

    slug = "not-acceptable"

    def __init__(self, detail: str, *, pointer: str = "") -> None:
        super().__init__(detail)
        self.detail = detail
        self.pointer = pointer

    def members(self) -> dict[str, Any]:
        """What the problem document says beyond that, as JSON-ready values (RFC 9457, 3.2)."""
        return {}
