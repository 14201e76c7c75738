"""A bench run as JUnit XML: one suite per group, one case per check."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

from ..checks.frame import Result
from .record import Record

# Characters that XML 1.0 cannot hold: a broken link may put anything into a text.
NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """The text with a question mark for each character that XML cannot hold."""
    return NOT_XML.sub("?", text)


def figures(result: Result) -> str:
    """The measured value, its limits, and the detail."""
    if result.measured is None:
        return clean(result.detail)
    allowed = f"allowed {result.low:.10g} to {result.high:.10g} {result.unit}"
    return clean(f"measured {result.measured:.10g} {result.unit}, {allowed}: {result.detail}")


def case(result: Result) -> ElementTree.Element:
    """A check as a test case: a failed or skipped one says why, a passed one gives its figures."""
    found = ElementTree.Element("testcase", name=result.name, classname=f"bench.{result.group}", time=f"{result.wall_s:.3f}")
    if result.outcome == "fail":
        kind = "limits" if result.measured is not None else "not measured"
        ElementTree.SubElement(found, "failure", message=figures(result), type=kind)
    elif result.outcome == "skipped":
        ElementTree.SubElement(found, "skipped", message=figures(result))
    else:
        ElementTree.SubElement(found, "system-out").text = figures(result)
    return found


def counts(results: list[Result]) -> dict[str, str]:
    """The attributes that count outcomes and time."""
    failures = sum(result.outcome == "fail" for result in results)
    skipped = sum(result.outcome == "skipped" for result in results)
    seconds = sum(result.wall_s for result in results)
    return {
        "tests": str(len(results)),
        "failures": str(failures),
        "errors": "0",
        "skipped": str(skipped),
        "time": f"{seconds:.3f}",
    }


def suite(group: str, record: Record) -> ElementTree.Element:
    """A group as a test suite: properties, then checks."""
    results = [result for result in record.results if result.group == group]
    stamp = record.begun.replace(tzinfo=None).isoformat(timespec="seconds")
    found = ElementTree.Element("testsuite", name=group, timestamp=stamp, **counts(results))
    properties = ElementTree.SubElement(found, "properties")
    for name, value in record.properties().items():
        ElementTree.SubElement(properties, "property", name=name, value=clean(value))
    found.extend(case(result) for result in results)
    return found


def write_junit(path: Path, record: Record) -> None:
    """Write a closed run as a file. Raises OSError."""
    root = ElementTree.Element("testsuites", name="twinloop bench", **counts(record.results))
    root.extend(suite(group, record) for group in dict.fromkeys(result.group for result in record.results))
    ElementTree.indent(root)
    ElementTree.ElementTree(root).write(path, encoding="utf-8", xml_declaration=True)
