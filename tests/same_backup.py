"""`python -m tests.same_backup ONE OTHER...`: the same rows and files in each backup; ends with status 1 if not."""

import json
import sys
import tarfile


def held_by(path: str) -> dict[str, object]:
    """Table → its rows by key, and file → its bytes."""
    found: dict[str, object] = {}
    with tarfile.open(path, "r:gz") as content:
        for member in content:
            part = content.extractfile(member)
            held = part.read() if part else b""
            if member.name.startswith("rows/"):
                rows = [json.loads(line) for line in held.decode().split("\n")[:-1]]
                found.setdefault(member.name.rpartition("/")[0], []).extend(rows)  # type: ignore[attr-defined]
            elif member.name.startswith("files/"):
                found[member.name] = held
    return found


def main(paths: list[str]) -> int:
    first, wrong = held_by(paths[0]), 0
    for path in paths[1:]:
        other = held_by(path)
        for name in sorted({*first, *other}):
            if first.get(name) != other.get(name):
                print(f"{name} differs in {path}")
                wrong += 1
    print(f"{len(first)} tables and files, {wrong} differ.")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
