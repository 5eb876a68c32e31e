"""The code reader that station pages run in the browser: kept in the tree, checked before it is served.

`python -m deploy.reader` checks the files; `python -m deploy.reader --renew 3.1.6` fetches that version of the npm
package zxing-wasm (npm has to be there) and writes the list of SHA-256 anew, to be read before it is committed.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

from deploy.environment import ROOT
from deploy.stops import StopError

FOLDER = ROOT / "trace" / "static" / "trace" / "zxing-wasm"
LIST = FOLDER / "SHA256SUMS"
# In the package -> here.
FILES = {
    "dist/es/reader/index.js": "reader/index.js",
    "dist/es/share.js": "share.js",
    "dist/reader/zxing_reader.wasm": "zxing_reader.wasm",
    "LICENSE": "LICENSE",
}
# Unless told otherwise the package would fetch its .wasm from a server of somebody else's. That address is taken out.
ELSEWHERE = re.compile(r"\{ locateFile: \(e, t\) => \{.*?\} \}", re.DOTALL)
HERE = "{ locateFile: (e, t) => t + e }"


def damaged() -> list[str]:
    """Names of listed files that are missing or not as they were when the list was written."""
    if not LIST.is_file():
        return [LIST.name]
    found = []
    for line in LIST.read_text(encoding="ascii").splitlines():
        digest, name = line.split("  ")
        path = FOLDER / name
        if not path.is_file() or hashlib.sha256(path.read_bytes()).hexdigest() != digest:
            found.append(name)
    return found


def renew(version: str) -> None:
    """Put the files of a version of zxing-wasm in place, and their list.

    Raises StopError, CalledProcessError, KeyError.
    """
    if not re.fullmatch(r"\d+\.\d+\.\d+", version):
        raise StopError(f"{version} is not a version of three numbers: give one such as 3.1.6.")
    npm = shutil.which("npm")
    if npm is None:
        raise StopError("npm was not found: it is needed to fetch another version, not to run the product.")
    with tempfile.TemporaryDirectory() as folder:
        packed = subprocess.run(
            [npm, "pack", "--silent", f"zxing-wasm@{version}"], cwd=folder, check=True, capture_output=True, text=True
        )
        with tarfile.open(Path(folder) / packed.stdout.split()[-1]) as package:
            for there, here in FILES.items():
                inside = package.extractfile(f"package/{there}")
                if inside is None:
                    raise StopError(f"zxing-wasm {version} has no file {there}: its layout has changed.")
                (FOLDER / here).parent.mkdir(parents=True, exist_ok=True)
                (FOLDER / here).write_bytes(inside.read())
    share = FOLDER / "share.js"
    changed, times = ELSEWHERE.subn(HERE, share.read_text(encoding="utf-8"))
    if times != 1 or "://" in changed:
        raise StopError(f"{share} names an address in a way that was not foreseen: look at it by hand.")
    share.write_text(changed, encoding="utf-8")
    names = sorted(FILES.values())
    digests = (hashlib.sha256((FOLDER / name).read_bytes()).hexdigest() for name in names)
    lines = (f"{digest}  {name}\n" for digest, name in zip(digests, names, strict=True))
    LIST.write_text("".join(lines), encoding="ascii")


def main() -> int:
    """The command line; 0 when every file is as listed."""
    parser = argparse.ArgumentParser(prog="python -m deploy.reader", description="Check or renew the code reader.")
    parser.add_argument("--renew", metavar="VERSION", help="fetch this version of the npm package zxing-wasm")
    arguments = parser.parse_args()
    try:
        if arguments.renew:
            renew(arguments.renew)
        bad = damaged()
    except StopError as error:
        print(error, file=sys.stderr)
        return 1
    print(f"Not as listed: {', '.join(bad)}" if bad else f"As listed in {LIST}.")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
