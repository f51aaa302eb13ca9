"""described.py PORT API.yaml: each path and method of the description answers as described."""
import datetime
import json
import sys

import yaml
from visitor import Events, Sheet, Tally

AFTER, BEFORE = "2100-01-01T00:00:00Z", "2000-01-01T00:00:00Z"
NOW = datetime.datetime.utcnow().isoformat(timespec="milliseconds") + "Z"
PATHS = {"tub": "tub-1", "batch": "B-01", "of": "tub-1"}
QUERIES = {"/api/history": "?chamber=tub-1&from=%s&to=%s&every_s=864000" % (BEFORE, AFTER),
           "/api/why_at/{tub}": "?at=" + NOW, "/api/decisions/{tub}": "?limit=3"}
ACTS = {"phase": {"tub": "tub-1", "phase": "fruiting"},
        "attend": {"tub": "tub-1", "for": "20m"},
        "keep_at": {"tub": "tub-1", "actuator": "mat", "level": "rest", "for": "1m"},
        "release": {"tub": "tub-1", "id": "mat"}, "note": {"tub": "tub-1", "text": "pins \u00fc"},
        "water": {"tub": "tub-1", "millilitres": 100},
        "refill": {"tub": "tub-1", "actuator": "mister"},
        "move": {"tub": "tub-1", "chamber": "tub-1"},
        "harvest": {"tub": "tub-1", "grams": 10},
        "alert_seen": {"place": "tub-1", "cause": "none"},
        "alert_quiet": {"place": "tub-1", "cause": "none", "for": "1h"},
        "alert_off": {"place": "tub-1", "cause": "none"},
        "alert_back": {"place": "tub-1", "cause": "none"}}
# What this tub and this record can do at once; the others may say that there is no such thing.
DONE = {"phase", "attend", "keep_at", "note", "water", "refill", "move"}
TYPES = {"object": dict, "array": list, "string": str, "boolean": bool, "integer": int,
         "number": (int, float)}


def resolved(file, node):
    while "$ref" in node:
        target = file
        for word in node["$ref"][2:].split("/"):
            target = target[word]
        node = target
    return node


def wrong(file, schema, value, at):
    """What of a value is not as its schema says."""
    schema = resolved(file, schema)
    if value is None:
        return [] if schema.get("nullable") or not schema.get("type") else [at + " is null"]
    kind = schema.get("type")
    other = kind != "boolean" and isinstance(value, bool)
    if kind and (other or not isinstance(value, TYPES[kind])):
        return ["%s is no %s: %r" % (at, kind, value)]
    found = []
    if "enum" in schema and value not in schema["enum"]:
        found.append("%s is not one of %s: %r" % (at, schema["enum"], value))
    for name in schema.get("required", ()):
        if name not in value:
            found.append("%s has no %s" % (at, name))
    if isinstance(value, dict):
        for name, inner in schema.get("properties", {}).items():
            if name in value:
                found += wrong(file, inner, value[name], at + "." + name)
    if isinstance(value, list) and "items" in schema:
        for i, element in enumerate(value):
            found += wrong(file, schema["items"], element, "%s[%d]" % (at, i))
    return found


def ask(sheet, path, method):
    if path == "/api/live":
        name, _ = Events(sheet).next()
        assert name == "state", name
        return 200, {"Content-Type": "text/event-stream"}, b'""'
    target = path.format(**PATHS) + QUERIES.get(path, "")
    if path.startswith("/api/act/"):
        return sheet.act(path.rsplit("/", 1)[1], ACTS[path.rsplit("/", 1)[1]])
    if method == "post":
        return sheet.ask("POST", target, "token=x",
                         Content_Type="application/x-www-form-urlencoded")
    return sheet.get(target)


def main():
    sheet, tally = Sheet(int(sys.argv[1])), Tally()
    with open(sys.argv[2], encoding="utf-8") as text:
        file = yaml.safe_load(text)
    for path, methods in file["paths"].items():
        for method, about in methods.items():
            said = "%s %s" % (method, path)
            status, headers, body = ask(sheet, path, method)
            described = about["responses"].get(str(status))
            if not tally.check(described, "%s: %d is not described: %r" % (said, status, body)):
                continue
            word = path.rsplit("/", 1)[1]
            may_fail = path.startswith("/api/act/") and word not in DONE
            tally.check(status < 400 or may_fail, "%s: %d %r" % (said, status, body))
            for kind, content in resolved(file, described).get("content", {}).items():
                tally.check(headers.get("Content-Type", "").startswith(kind),
                            "%s: %s" % (said, headers))
                if kind == "application/json":
                    for text in wrong(file, content["schema"], json.loads(body), said):
                        tally.check(False, text)
    tally.end()


main()
