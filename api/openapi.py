"""Writes the OpenAPI document of the HTTP answers to a file."""

import json
import sys
from pathlib import Path
from typing import Any

from api.app import create_app


def document() -> dict[str, Any]:
    """The document that `/v1/openapi.json` serves."""
    return create_app(Path("none")).openapi()


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(json.dumps(document(), indent=1, ensure_ascii=False) + "\n")
