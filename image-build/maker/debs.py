"""Debian packages of the release for arm64, downloaded and checked by apt, whatever release this machine runs."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from maker import mirror
from maker.inputs import HERE, SUITE, cache_folder, hash_of, listed
from maker.progress import BuildError, run, step


def debs() -> Path:
    """Give the folder with the packages of packages-unpacked.txt, downloaded or from the cache."""
    names = listed(HERE / "packages-unpacked.txt")
    key = hash_of([HERE / "packages-unpacked.txt", HERE / "maker/debs.py"], SUITE)
    folder = cache_folder() / f"debs-{key}"
    if (folder / "complete").exists():
        return folder
    with step("kernel and firmware packages"):
        work = folder.with_name(f"{folder.name}.work")
        shutil.rmtree(work, ignore_errors=True)
        apt = _apt(work / "apt")
        run(["apt-get", "-qq", "update"], env=apt)
        for name in names:
            run(["apt-get", "-qq", "-o", "APT::Sandbox::User=root", "download", _real(name, apt)], env=apt, cwd=work)
        shutil.rmtree(work / "apt")
        (work / "complete").touch()
        shutil.rmtree(folder, ignore_errors=True)
        work.rename(folder)
    return folder


def _apt(folder: Path) -> dict[str, str]:
    """Make an apt of its own, with our release and arm64, and give the environment that makes apt-get use it."""
    for name in ("state/lists/partial", "cache/archives/partial", "etc/sources.list.d", "etc/preferences.d"):
        (folder / name).mkdir(parents=True)
    (folder / "status").touch()
    (folder / "etc/sources.list").write_text(mirror.sources(), encoding="utf-8")
    (folder / "apt.conf").write_text(
        'APT::Architecture "arm64"; APT::Architectures { "arm64"; };\n'
        f'Dir "{folder}"; Dir::State "state"; Dir::State::status "{folder}/status"; Dir::Cache "cache";\n'
        'Dir::Etc "etc"; Dir::Etc::parts "none";\n',
        encoding="utf-8",
    )
    return os.environ | {"APT_CONFIG": str(folder / "apt.conf"), "LC_ALL": "C.UTF-8"}


def _real(name: str, apt: dict[str, str]) -> str:
    """Give the package that holds the files: names of the kernel stand for those of the newest version."""
    meta, _, part = name.partition(":")
    if meta not in {"linux-image-arm64", "linux-headers-arm64"}:
        return name
    found = _needed(meta, meta.removesuffix("arm64"), apt)
    return _needed(found, part, apt) if part else found


def _needed(name: str, start: str, apt: dict[str, str]) -> str:
    """Give what a package depends on whose name begins so; `-common` names an end."""
    for line in run(["apt-cache", "depends", name], env=apt).splitlines():
        kind, _, package = line.strip().partition(": ")
        if kind == "Depends" and (package.startswith(start) or (start == "-common" and package.endswith(start))):
            return package
    raise BuildError(f"the archive has no {start} for {name}")
