"""The parser of google-fhir-r4, one line in and one out: what it has against a resource.

Run by a Python that has the package, with nothing else of this tree. In: a resource as JSON; out: a
list of messages. With `--definitions` it says where the official definitions lie.
"""

from __future__ import annotations

import json
import sys
import warnings
from pathlib import Path

import google.fhir.r4


def messages(text: str) -> list[str]:
    """What parsing and validating a resource says."""
    from google.fhir.r4 import json_format  # noqa: PLC0415 - a second, which --definitions spares
    from google.fhir.r4.proto.core.resources import (  # noqa: PLC0415
        bundle_and_contained_resource_pb2 as resources,
    )

    try:
        json_format.json_fhir_string_to_proto(
            text, resources.ContainedResource, validate=True, default_timezone="Z"
        )
    except Exception as error:  # whatever it raises is its verdict
        return [f"{type(error).__name__}: {error}"]
    return []


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    if sys.argv[1:] == ["--definitions"]:
        print(Path(google.fhir.r4.__file__).parent / "data" / "hl7.fhir.r4.core.tgz")
    else:
        for line in sys.stdin:
            print(json.dumps(messages(line)), flush=True)
