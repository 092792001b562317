"""What is in the image, with versions and licences: a list in CycloneDX 1.5 (ECMA-424), beside the image."""

from __future__ import annotations

import json
import re
import tarfile
import uuid
import zipfile
from collections.abc import Iterable
from email.parser import HeaderParser
from pathlib import Path
from typing import Any

Component = dict[str, Any]


def contents(packages: str, tree: Path, unpacked: Iterable[tuple[str, str, Path]], wheels: Iterable[Path]) -> str:
    """Give the list as JSON, in a fixed order.

    Parameters
    ----------
    packages : str
        One Debian package a line: name, version, source, version of the source, architecture; tabs between.
    tree : Path
        The root file system, where each package's copyright file is.
    unpacked : iterable of (name, version, folder)
        Packages whose files were taken as they are, and where those lie.
    wheels : iterable of Path
        Python packages in files of their own, wheels or sources; the project's own is one of them.
    """
    rows = [line.split("\t") for line in packages.splitlines() if line]
    found = [_debian(name, version, source, arch, tree) for name, version, source, _, arch in rows]
    found += [_debian(name, version, name, "arm64", folder) for name, version, folder in unpacked]
    found += [_python(wheel) for wheel in wheels]
    found.sort(key=lambda entry: entry["purl"])
    serial = uuid.uuid5(uuid.NAMESPACE_URL, json.dumps(found, sort_keys=True))
    whole = {
        "$schema": "http://cyclonedx.org/schema/bom-1.5.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "serialNumber": f"urn:uuid:{serial}",
        "version": 1,
        "metadata": {"component": {"type": "firmware", "name": "keelnote-image"}},
        "components": found,
    }
    return json.dumps(whole, indent=1, sort_keys=True) + "\n"


def _debian(name: str, version: str, source: str, arch: str, tree: Path) -> Component:
    return {
        "type": "library",
        "name": name,
        "version": version,
        "purl": f"pkg:deb/debian/{name}@{version.replace(':', '%3A').replace('+', '%2B')}?arch={arch}",
        "licenses": _licences(licences_of(tree / f"usr/share/doc/{name}/copyright")),
        "properties": [{"name": "source", "value": source}],
    }


def licences_of(path: Path) -> list[str]:
    """Give the licences that a Debian copyright file names (Debian, "Machine-readable copyright file" 1.0).

    Older files are plain text: there the licences are the ones whose full text they point to.
    """
    if not path.is_file():
        return []
    text = path.read_text(encoding="utf-8", errors="replace")
    named = {found.strip() for found in re.findall(r"^License:[ \t]*(\S.*)$", text, re.MULTILINE)}
    pointed = set(re.findall(r"/usr/share/common-licenses/([\w.+-]*\w)", text))
    return sorted(named or pointed)


def _python(package: Path) -> Component:
    if package.suffix == ".whl":
        with zipfile.ZipFile(package) as archive:
            (place,) = [name for name in archive.namelist() if name.endswith(".dist-info/METADATA")]
            text = archive.read(place)
    else:
        with tarfile.open(package) as archive:
            place = min((name for name in archive.getnames() if name.endswith("/PKG-INFO")), key=len)
            text = archive.extractfile(place).read()
    told = HeaderParser().parsestr(text.decode())
    licence = told["License-Expression"] or told["License"]
    return {
        "type": "library",
        "name": told["Name"],
        "version": told["Version"],
        "purl": f"pkg:pypi/{told['Name'].lower()}@{told['Version']}",
        "licenses": _licences([licence] if licence else []),
        "properties": [{"name": "source", "value": package.name}],
    }


def _licences(names: list[str]) -> list[Component]:
    return [{"license": {"name": name}} for name in names] or [{"license": {"name": "see the package"}}]
