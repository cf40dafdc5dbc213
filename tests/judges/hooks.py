"""What schemathesis cannot know of this service, and how far it came.

The document's examples name things of the demo company and are sent as they stand. Of the other good requests, half get
ids of things that are really there, so that they reach past "not found". Those that change something get its present
version and a new idempotency key. Every answer is counted; called as a program, this file says which operations never
answered 2xx and fails if they are more than one in ten.
"""

import itertools
import json
import os
import re
import sys
import time
import uuid
import zlib
from collections import defaultdict
from pathlib import Path

TALLY = Path(os.environ["OVENWRIGHT_TALLY"])
ENOUGH = 0.9


def judge() -> int:
    tally = json.loads(TALLY.read_text())
    never = sorted(name for name, statuses in tally.items() if not any(status.startswith("2") for status in statuses))
    for name in never:
        print(f"  never 2xx: {name}: {tally[name]}")
    reached = len(tally) - len(never)
    print(f"{reached} of {len(tally)} operations answered 2xx ({reached / len(tally):.0%}, wanted {ENOUGH:.0%})")
    return 0 if reached >= ENOUGH * len(tally) else 1


if __name__ == "__main__":
    sys.exit(judge())

import atexit

import requests
import schemathesis

SERVICE = os.environ["OVENWRIGHT_URL"]
session = requests.Session()
session.headers["Authorization"] = f"Bearer {os.environ['OVENWRIGHT_TOKEN']}"
calls = itertools.count()
# Statuses of each operation, those of earlier runs too.
tally: dict[str, dict[str, int]] = json.loads(TALLY.read_text()) if TALLY.exists() else {}
# Ids of things that are there, under the name that a field or a path has for them: "site_id", "work_order_id".
known: dict[str, list] = defaultdict(list)
# The version that a thing was last seen with.
versions: dict[str, int] = {}
# Ids in the answers to scenarios of the stateful phase.
made: set[str] = set()
# The judge's own person and tokens, which it must not demote or revoke.
me = session.get(f"{SERVICE}/v1/me", timeout=20).json()["person_id"]
own = {me} | {token["id"] for token in session.get(f"{SERVICE}/v1/people/{me}/tokens", timeout=20).json()["items"]}


def singular(collection: str) -> str:
    """`work-orders` → `work_order`"""
    name = collection.replace("-", "_")
    return {"people": "person", "branches": "branch"}.get(name, name.removesuffix("s"))


def remember(name: str, value: object) -> None:
    if value not in known[name] and value not in own and len(known[name]) < 200:
        known[name].append(value)


def learn(collection: str, answer: object) -> None:
    """Takes what can be asked for out of an answer, however deep."""
    if isinstance(answer, list):
        for item in answer:
            learn(collection, item)
    elif isinstance(answer, dict):
        if isinstance(answer.get("id"), str) and isinstance(answer.get("version"), int):
            versions[answer["id"]] = answer["version"]
        for key, value in answer.items():
            if key in ("id", "key") and isinstance(value, str):
                remember(f"{singular(collection)}_{key}", value)
            elif key.endswith("_id") and isinstance(value, str):
                remember(key, value)
            elif key == "version" and "key" in answer:
                remember("version", value)
            elif key == "type" and str(value).startswith("/problems/"):
                remember("slug", value.removeprefix("/problems/"))
            learn(collection, value)


def collection_of(path: str) -> str:
    """The collection whose things a path is about: `/v1/sites/{id}/appliances` → `appliances`."""
    return [part for part in path.split("/") if part and not part.startswith("{")][-1]


def learn_from_the_demo_company() -> None:
    paths = requests.get(f"{SERVICE}/openapi.json", timeout=20).json()["paths"]
    for deep in (0, 1):
        for path, operations in paths.items():
            if "get" not in operations or path.count("{") != deep or not path.startswith("/v1/"):
                continue
            owner = path.split("/")[2]
            for owner_id in known[f"{singular(owner)}_id"][:20] if deep else [""]:
                answer = session.get(SERVICE + path.replace("{id}", owner_id), timeout=20)
                if answer.status_code == 200 and "json" in answer.headers.get("content-type", ""):
                    learn(collection_of(path) if not path.endswith("}") else owner, answer.json())


def pick(name: str, seed: int):
    return known[name][seed % len(known[name])] if known.get(name) else None


def with_known_ids(value: object, seed: int) -> object:
    """The same body with ids of things that are there; its own id stays, since it names something new."""
    if isinstance(value, list):
        return [with_known_ids(item, seed) for item in value]
    if isinstance(value, dict):
        return {
            key: (pick(key, seed) or item) if key.endswith("_id") and isinstance(item, str) else with_known_ids(item, seed)
            for key, item in value.items()
        }
    return value


# What no two things may share.
UNIQUE = {"id", "external_id", "name", "number", "serial"}


def with_new_ids(value: object) -> object:
    if isinstance(value, list):
        return [with_new_ids(item) for item in value]
    if isinstance(value, dict):
        return {
            key: new_id() if key in UNIQUE and isinstance(item, str) else with_new_ids(item) for key, item in value.items()
        }
    return value


def new_id() -> str:
    """A UUID of version 7, as clients make them."""
    milliseconds = time.time_ns() // 1_000_000
    return str(uuid.UUID(int=milliseconds << 80 | 7 << 76 | 2 << 62 | uuid.uuid4().int & (1 << 62) - 1))


def example_of(case) -> object:
    content = case.operation.definition.raw.get("requestBody", {}).get("content", {})
    return next((media["example"] for media in content.values() if "example" in media), case.body)


def phase_of(case) -> str | None:
    return case.meta and case.meta.phase.name.value


@schemathesis.hook
def before_call(ctx, case, kwargs) -> None:
    if phase_of(case) is None or case.meta.generation.mode.name != "POSITIVE":
        return
    case.query.pop("cursor", None)  # signed: none that was not given out can be good
    case.headers.pop("Last-Event-ID", None)  # the same
    phase = phase_of(case)
    seed = next(calls)
    if phase == "fuzzing" and seed % 2:
        return
    if phase == "stateful":
        # This phase goes from what one operation made to the next. What it makes is new each time; every other body
        # is the document's example, so that the way does not end at the first step. The generated body decides which:
        # played again, a scenario must go the same way.
        seed = zlib.crc32(repr(case.body).encode())
        if case.path_parameters.get("id") not in made:
            give_known_ids(case, seed)
        case.body = with_new_ids(example_of(case) if seed % 2 else with_known_ids(case.body, seed))
    elif phase != "examples":
        give_known_ids(case, seed // 2)
    if "Idempotency-Key" in case.headers:
        case.headers["Idempotency-Key"] = str(uuid.uuid4())
    if "If-Match" in case.headers:
        case.headers["If-Match"] = present_version(case)


def present_version(case) -> str:
    resource = case.formatted_path.split("/actions/")[0]
    etag = session.get(SERVICE + resource, timeout=20).headers.get("ETag")
    return etag or f'"{versions.get(resource.split("/")[-1], 1)}"'


def give_known_ids(case, seed: int) -> None:
    parts = case.path.split("/")
    for index, part in enumerate(parts):
        name = part.strip("{}")
        if name != part and (there := pick(f"{singular(parts[index - 1])}_{name}", seed) or pick(name, seed)):
            case.path_parameters[name] = there
    case.body = with_known_ids(case.body, seed)
    for name, value in case.query.items():
        if name.endswith("_id") and (there := pick(name, seed)):
            case.query[name] = there


@schemathesis.hook
def after_call(ctx, case, response) -> None:
    if response.request.method.lower() != case.operation.method.lower():
        return  # a probe with another method, not this operation
    statuses = tally.setdefault(case.operation.label, {})
    statuses[str(response.status_code)] = statuses.get(str(response.status_code), 0) + 1
    if "json" not in "".join(response.headers.get("content-type", [])):
        return
    if phase_of(case) == "stateful":
        made.update(re.findall(r'"id":"([^"]+)"', response.text))
    else:
        learn(collection_of(case.path), response.json())


learn_from_the_demo_company()
atexit.register(lambda: TALLY.write_text(json.dumps(tally, indent=1)))
