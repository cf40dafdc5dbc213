#!/usr/bin/env python3
"""Has a machine drafted from the plate of a file of cases, and takes the draft in as it came: model, then faults.

    draft.py CASES.json --base http://127.0.0.1:8080 --sign-ins FILE

A file without a plate speaks of built-in models, and nothing is sent. FILE has lines role<TAB>name<TAB>token, one of a
manager.
"""
import argparse
import json
import sys
import urllib.error
import urllib.request


def send(base, token, path, body):
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    request = urllib.request.Request(base.rstrip("/") + path, json.dumps(body).encode(), headers)
    try:
        with urllib.request.urlopen(request, timeout=120) as answer:
            return json.load(answer)
    except urllib.error.HTTPError as error:
        raise SystemExit(f"{path} answers {error.code}: {error.read().decode()}") from error


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cases")
    parser.add_argument("--base", default="http://127.0.0.1:8080")
    parser.add_argument("--sign-ins", required=True)
    given = parser.parse_args()
    with open(given.cases, encoding="utf-8") as file:
        plate = json.load(file).get("plate")
    if plate is None:
        return 0
    with open(given.sign_ins, encoding="utf-8") as file:
        rows = [line.rstrip("\n").split("\t") for line in file]
    token = next((row[2] for row in rows if row[0] == "manager"), None)
    if token is None:
        raise SystemExit(f"{given.sign_ins} has no line role<TAB>name<TAB>token of a manager")
    draft = send(given.base, token, "/v1/model-drafts", plate)
    send(given.base, token, "/v1/models", draft["model"])
    send(given.base, token, "/v1/fault-catalogues", draft["faults"])
    faults, readings = len(draft["faults"]["faults"]), len(draft["faults"]["measurements"])
    unknown = ", ".join(draft["without_faults"]) or "none"
    print(f"{plate['title']}: {faults} faults, {readings} measurements, {len(draft['procedures'])} procedures; "
          f"nothing known of: {unknown}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
