#!/bin/sh
# Leaves a database of the present schema version in tests/data, for migrations to come.
# Usage: tests/data/make-record.sh BUILD-FOLDER; each version's file is made once, by that version.
set -eu
here=$(dirname "$(readlink -f "$0")")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
"$1/tests/record_writer" "$work" fixed
sqlite3 "$work/record.db" "pragma journal_mode=delete; vacuum" > /dev/null
version=$(sqlite3 "$work/record.db" "pragma user_version")
cp "$work/record.db" "$here/record-v$version.db"
echo "$here/record-v$version.db"
