"""SQL of the one door to the truth: a function takes an event's bytes and makes the event and every row they name.

The app's login has no INSERT on a table of the truth. What the bytes may look like stands in two tables of the owner,
`known_kind` and `known_part`; a later migration adds to them with `kind()` and `part()`. What the functions of CANONICAL,
CHECKS, ENTER and DOOR say here is what holds: a migration that changes one makes all of them anew, as 0010 does. Other
released text is never edited.
"""

from trace.migrations._guards import GUARDS as FIRST_GUARDS
from trace.migrations._guards import PLANT, SEALERS, SET_COLUMNS, TRUTH, _drop, _put, _text_array


def _digits(most: str) -> str:
    """A pattern for whole numbers from 1 to `most`, without leading zeros."""
    ways = [f"[1-9][0-9]{{0,{len(most) - 2}}}"]
    for at, digit in enumerate(most):
        least = "1" if at == 0 else "0"
        if digit > least:
            ways.append(f"{most[:at]}[{least}-{int(digit) - 1}][0-9]{{{len(most) - at - 1}}}")
    return "|".join([*ways, most])


# Tables of plant data: those of the first migrations and what later ones added, each by `plant_table()`.
PLANT_TABLES = (*PLANT,)
# One way to write each value of canonical JSON (RFC 8785), as a POSIX pattern.
TEXT = r'"(?:[^"\\]|\\.)*"'
HEX = "[0-9a-f]"
# 2^53 - 1: what every reader of JSON takes for the same number.
WHOLE = f"(?:0|-?(?:{_digits('9007199254740991')}))"
DAY = "[0-9]{4}-[0-9]{2}-[0-9]{2}"
FORM = """'YYYY-MM-DD"T"HH24:MI:SS.US"Z"'"""
CONTENT = rf'\{{"content":(?:null|{TEXT}),"since":{TEXT}\}}'
# What a value of a row may look like. How numbers are spelt, that an identifier is one that is known and a time one that
# there is, is looked at for all rows together: a pattern of few states is quick.
SHAPES = {
    "text": TEXT,
    "uid": TEXT,
    "time": TEXT,
    "whole": "-?[0-9]+",
    # What fits an integer of four bytes, and is counted from 0.
    "count": "[0-9]{1,9}",
    "amount": "[1-9][0-9]*",
    "flag": "(?:true|false)",
    "digest": f'"{HEX}{{64}}"',
    # A reading as displayed: plain digits, at most 14 characters, blanks around them as they were typed.
    "shown": r'" *[-+]?(?:[0-9]{1,13}\.?[0-9]{0,13}|\.[0-9]{1,13}) *"',
    "code": '"[0-9A-Z]{8}"',
    "type": r'"[!#-\[\]-~]{1,80}"',
    # An object of values, of lists and of objects of values; the order of its keys is looked at apart.
    "object": r'\{(?:[^{}"]|"(?:[^"\\]|\\.)*"|\{(?:[^{}"]|"(?:[^"\\]|\\.)*")*\})*\}',
    "contents": rf"\[{CONTENT}(?:,{CONTENT})*\]",
    "thing": r'"[a-z_]+:(?:[^"\\]|\\.)+"',
    "plant": '"(?:' + "|".join(table.removeprefix("plant_") for table in PLANT_TABLES) + ')"',
}
# Part of `rows` -> its keys in the order of canonical JSON, each with its shape. `?`: may be null; `~`: may be left out.
PARTS = {
    "blobs": "sha256:digest size:count type:type",
    "carriers": "kind:text uid:uid",
    "closed": "event:uid n:count",
    "cooks": "cycle:uid position:text unit:uid",
    "cycles": "number:text uid:uid",
    "differences": "amount:whole at:time~ cause:text left:whole~ unit:uid uom:text",
    "discrepancies": "kind:text unit:uid?",
    "edges": "amount:amount? aside:flag~ at:time~ child:uid layer:text? of:uid~ parent:uid position:text? role:text"
    " uom:text?",
    "erased": "note:digest",
    "gaps": "unit:uid what:text which:text",
    "gaps_closed": "unit:uid what:text which:text",
    "hold_releases": "hold:uid unit:uid?",
    "holds": "rule:text uid:uid unit:uid",
    "instruments": "checked_at:time instrument:text passed:flag",
    "label_ends": "code:code replaced_by:code?",
    "labels": "carrier:uid? code:code resource:thing? unit:uid?",
    "logs": "carrier:uid entries:contents from:time~ layer:text? order:text? replace:flag",
    "missed": "amount:amount? at:time~ carrier:uid? child:uid layer:text? of:uid~ position:text? role:text uom:text",
    "moulds": "arm:text? cycle:uid? load:uid? mould:text order:text? shots:count since_release:count"
    " since_service:count since_vent:count stage:text",
    "places": "place:text unit:uid",
    "readings": "instrument:text? quantity:text unit:uid? uom:text value:shown zone:text?",
    "resources": "role:text thing:thing",
    "serial_stands": "hull:uid? standing:text text:text",
    "serials": "format:text month:text? plate:uid product:text text:text",
    "statuses": "at:time~ status:text unit:uid",
    "things": "body:text key:text kind:plant uid:uid? valid_from:time version:count",
    "touches": "role:text unit:uid",
    "voids": "event:uid n:count",
    "units": "about:object amount:whole? carrier:uid? kind:text lot_no:text? uid:uid uom:text?",
}
KINDS = (
    "bound", "carrier_made", "certified", "check_weighed", "cook_aborted", "cook_ended", "cook_stage", "cook_started",
    "cooled", "corrected", "counted", "cut", "defined", "demoulded", "discrepancy_closed", "dispatched", "erased",
    "graphic_placed", "held", "hold_released", "inserts_placed", "inspected", "label_reprinted", "mould_closed",
    "mould_ready", "old_hull", "opening_stock", "packed", "plates_back", "plates_made", "plates_out", "plates_swapped",
    "proved_empty", "racked", "received", "released", "rewrapped", "scrapped", "shown", "tipped", "topped_up", "weighed",
)  # fmt: skip
HEAD = (
    "corrects", "found", "happened", "helper", "install", "kind", "mode", "offset_min", "overrides", "person",
    "recorded", "rows", "rules", "says", "seq", "station", "uid", "unsure_ms", "ver", "why",
)  # fmt: skip


def kind(name: str, version: int = 1) -> str:
    """SQL that lets the door know a kind of event, or a new version of one."""
    return f"INSERT INTO known_kind (kind, ver) VALUES ('{name}', {version});"


def part(name: str, keys: str) -> str:
    """SQL that lets the door know a part of `rows`, or a known one in another shape (`keys` as in PARTS)."""
    pattern = f"^(?:,{row_pattern(keys)})+$".replace("'", "''")
    return (
        f"INSERT INTO known_part (part, shape) VALUES ('{name}', '{pattern}')"
        " ON CONFLICT (part) DO UPDATE SET shape = EXCLUDED.shape;"
    )


def row_pattern(keys: str) -> str:
    """One row of a part as canonical text: just these keys in just this order. The last is never left out."""
    pairs = []
    for key in keys.split():
        word, _, shape = key.partition(":")
        value = SHAPES[shape.rstrip("?~")]
        pair = f'"{word}":' + (f"(?:null|{value})" if "?" in shape else value)
        pairs.append(f"(?:{pair}," if shape.endswith("~") else f"{pair},")
        pairs[-1] += ")?" if shape.endswith("~") else ""
    return "\\{" + "".join(pairs).removesuffix(",") + "\\}"




TABLES = """
-- What the door takes: kinds of event by version, and the parts of `rows`, each as the pattern of its rows' text.
CREATE TABLE known_kind (kind text NOT NULL, ver smallint NOT NULL, PRIMARY KEY (kind, ver));
CREATE TABLE known_part (part text PRIMARY KEY, shape text NOT NULL);
-- The gate that scans share, and the turn in which tries to sign in are counted, are locks on these two empty tables:
-- nobody but the owner may lock them. Advisory locks are open to every login.
CREATE TABLE gate ();
CREATE TABLE turn ();
"""

TOKENS = (
    rf'^(?:[]{{}}]|[[,:](?:{WHOLE})?|true|false|null|"(?:[^"\\]|\\["\\bfnrt]|\\u00(?:0[0-7bef]|1[0-9a-f]))*")*$'
)

CANONICAL = rf"""
-- True when texts of ASCII stand in order and none twice.
CREATE OR REPLACE FUNCTION rising(texts text[]) RETURNS boolean LANGUAGE plpgsql IMMUTABLE SET search_path = public, pg_temp AS $$
DECLARE
  one text;
  before text;
BEGIN
  FOREACH one IN ARRAY texts LOOP
    IF one <= before COLLATE "C" THEN RETURN false; END IF;
    before := one;
  END LOOP;
  RETURN true;
END $$;

-- True when each object in these documents, at any depth, has its keys in the order of RFC 8785, 3.2.3, and none twice:
-- by UTF-16 code units. Text compares by code point, where the characters beyond U+FFFF come last and not before U+E000;
-- a mark in front of both sorts puts them right.
CREATE OR REPLACE FUNCTION keys_in_order(documents json[]) RETURNS boolean LANGUAGE plpgsql IMMUTABLE
  SET search_path = public, pg_temp AS $$
DECLARE
  document json;
  looked_at text;
  deep json[] := '{{}}';
BEGIN
  -- Nearly all of them are one object of plain values with keys in ASCII: those are looked at without the whole search.
  FOREACH document IN ARRAY documents LOOP
    looked_at := document::text;
    IF looked_at IN ('[]', '{{}}') THEN CONTINUE; END IF;
    IF looked_at ~ '^.[^][{{}}]*.$' AND octet_length(looked_at) = length(looked_at) THEN
      IF left(looked_at, 1) = '{{' AND NOT rising(ARRAY(SELECT json_object_keys(document))) THEN RETURN false; END IF;
    ELSE
      deep := deep || document;
    END IF;
  END LOOP;
  IF cardinality(deep) = 0 THEN RETURN true; END IF;
  RETURN NOT EXISTS (
    WITH RECURSIVE inside(part) AS (
      SELECT unnest(deep)
      UNION ALL
      SELECT below.value FROM inside, LATERAL (
        SELECT value FROM json_each(CASE WHEN json_typeof(part) = 'object' THEN part END)
        UNION ALL
        SELECT value FROM json_array_elements(CASE WHEN json_typeof(part) = 'array' THEN part END)) AS below
       WHERE json_typeof(below.value) IN ('object', 'array'))
    SELECT FROM inside,
           LATERAL (SELECT array_agg(key) AS keys
                      FROM json_object_keys(CASE WHEN json_typeof(part) = 'object' THEN part END) AS key) AS found
     WHERE keys IS DISTINCT FROM (SELECT array_agg(key ORDER BY (
        CASE WHEN octet_length(key) = length(key) THEN key ELSE
          regexp_replace(regexp_replace(key, '([\uE000-\uFFFF])', chr(57345) || '\1', 'g'),
                         '([\U00010000-\U0010FFFF])', chr(57344) || '\1', 'g') END) COLLATE "C")
                                    FROM (SELECT DISTINCT key FROM unnest(keys) AS key) AS each));
END $$;

-- True when a text is the one way (RFC 8785) to write what it says; numbers are whole and at most 2^53 - 1.
CREATE OR REPLACE FUNCTION is_canonical(document text) RETURNS boolean LANGUAGE plpgsql IMMUTABLE
  SET search_path = public, pg_temp AS $$
BEGIN
  RETURN document ~ '{TOKENS.replace("'", "''")}' AND keys_in_order(ARRAY[document::json]);
EXCEPTION WHEN invalid_text_representation OR untranslatable_character OR statement_too_complex THEN
  RETURN false;
END $$;

-- HMAC-SHA-256 (RFC 2104) of a text under a key of at most 64 bytes, in hexadecimal.
CREATE OR REPLACE FUNCTION keyed_digest(key bytea, said text) RETURNS text LANGUAGE plpgsql IMMUTABLE
  SET search_path = public, pg_temp AS $$
DECLARE
  inner_pad bytea := decode(repeat('36', 64), 'hex');
  outer_pad bytea := decode(repeat('5c', 64), 'hex');
BEGIN
  FOR n IN 0 .. length(key) - 1 LOOP
    inner_pad := set_byte(inner_pad, n, get_byte(key, n) # 54);
    outer_pad := set_byte(outer_pad, n, get_byte(key, n) # 92);
  END LOOP;
  RETURN encode(sha256(outer_pad || sha256(inner_pad || convert_to(said, 'UTF8'))), 'hex');
END $$;
"""

CHECKS = f"""
CREATE OR REPLACE FUNCTION refuse(sentence text, VARIADIC said text[] DEFAULT '{{}}') RETURNS void LANGUAGE plpgsql
  SET search_path = public, pg_temp AS $$
BEGIN
  RAISE EXCEPTION '%', format(sentence, VARIADIC said) USING ERRCODE = 'check_violation';
END $$;

-- Is this the present, as far as a commit takes? In a database marked as a demo times may be set.
CREATE OR REPLACE FUNCTION is_now(moment timestamptz) RETURNS boolean LANGUAGE sql STABLE SET search_path = public, pg_temp AS $$
  SELECT COALESCE(abs(extract(epoch FROM moment - clock_timestamp())) <= 5, false)
         OR EXISTS (SELECT FROM installation WHERE demo)
$$;

-- The bytes of a new event as jsonb; refuses those that are not canonical, not of a kind, version and shape that is
-- known, say nothing, name nobody, or are of another time.
CREATE OR REPLACE FUNCTION read_event(bytes text) RETURNS jsonb LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
DECLARE
  plain json;
  said jsonb;
  rows json;
  documents json[];
  head text[];
  wrong text;
BEGIN
  IF bytes !~ '{TOKENS.replace("'", "''")}' OR left(bytes, 1) <> '{{' THEN
    PERFORM refuse('the bytes of an event are not canonical JSON (RFC 8785)');
  END IF;
  plain := bytes::json;
  said := bytes::jsonb;
  head := ARRAY(SELECT json_object_keys(plain));
  IF head IS DISTINCT FROM {_text_array(HEAD)} THEN
    PERFORM refuse('an event has just these keys, once each and in order: %s; these bytes have: %s',
                   '{", ".join(HEAD)}', array_to_string(head, ', '));
  END IF;
  rows := plain->'rows';
  documents := ARRAY[plain->'found', plain->'overrides', plain->'says'];
  IF said->'rows' ? 'units' THEN
    documents := documents || ARRAY(SELECT unit->'about' FROM json_array_elements(rows->'units') AS unit);
  END IF;
  IF NOT keys_in_order(documents) THEN
    PERFORM refuse('the bytes of an event are not canonical JSON (RFC 8785): keys stand twice or in another order');
  END IF;
  IF NOT EXISTS (SELECT FROM known_kind WHERE kind = said->>'kind' AND to_jsonb(ver) = said->'ver') THEN
    PERFORM refuse('an event of kind %s, version %s, is not known here', said->>'kind', said->>'ver');
  END IF;
  IF COALESCE(said->>'person', '') = '' THEN
    PERFORM refuse('an event without a person is refused: somebody answers for each');
  END IF;
  IF jsonb_typeof(said->'found') <> 'array' OR jsonb_typeof(said->'overrides') <> 'object'
     OR jsonb_typeof(said->'says') <> 'object' OR jsonb_typeof(said->'rules') <> 'string'
     OR jsonb_typeof(said->'helper') NOT IN ('string', 'null') OR said->>'mode' NOT IN ('asks', 'tells')
     OR said->>'mode' IS NULL THEN
    PERFORM refuse('found, helper, mode, overrides, rules or says of an event is of another sort than it must be');
  END IF;
  IF jsonb_typeof(said->'rows') <> 'object' OR said->'rows' = '{{}}' THEN
    PERFORM refuse('an event without rows is refused: it would say that nothing happened');
  END IF;
  IF NOT rising(ARRAY(SELECT json_object_keys(rows))) THEN
    PERFORM refuse('the bytes of an event are not canonical JSON (RFC 8785): the parts of rows stand in another order');
  END IF;
  SELECT string_agg(key, ', ') INTO wrong FROM json_each(rows) LEFT JOIN known_part ON part = key
   WHERE part IS NULL OR left(value::text, 1) <> '[' OR ',' || substr(value::text, 2, length(value::text) - 2) !~ shape;
  IF wrong IS NOT NULL THEN
    PERFORM refuse('rows of these parts are not known, or have other columns or values than they must have: %s', wrong);
  END IF;
  SELECT string_agg(at, ', ') INTO wrong FROM jsonb_array_elements_text(
      jsonb_path_query_array(said->'rows', '$.logs[*].entries[*].since')
      || jsonb_path_query_array(said->'rows', '$.logs[*].from') || jsonb_path_query_array(said->'rows', '$.*[*].at')
      || jsonb_path_query_array(said->'rows', '$.instruments[*].checked_at')
      || jsonb_path_query_array(said->'rows', '$.things[*].valid_from')) AS at
   WHERE to_char(at::timestamptz AT TIME ZONE 'UTC', {FORM}) IS DISTINCT FROM at;
  IF wrong IS NOT NULL THEN
    PERFORM refuse('times are written in another form than the one they must have: %s', wrong);
  END IF;
  IF EXISTS (SELECT FROM jsonb_array_elements_text(jsonb_path_query_array(said->'rows', '$.units[*].about.opened')) AS day
              WHERE day !~ '^{DAY}$' OR to_char(day::date, 'YYYY-MM-DD') <> day) THEN
    PERFORM refuse('the day on which something was opened is written in another form than YYYY-MM-DD');
  END IF;
  IF (said->>'happened')::timestamptz > (said->>'recorded')::timestamptz THEN
    PERFORM refuse('an event that happens at %s, after it is recorded, has not happened', said->>'happened');
  END IF;
  IF NOT is_now((said->>'recorded')::timestamptz) THEN
    PERFORM refuse('recorded time %s is more than 5 s off the clock of the server', said->>'recorded');
  END IF;
  RETURN said;
END $$;

-- Names and words, apart from the bytes that name them by digest. Each must be named there, and be what its digest says.
CREATE OR REPLACE FUNCTION keep_notes(notes jsonb, named_in text) RETURNS void LANGUAGE plpgsql
  SET search_path = public, pg_temp AS $$
DECLARE wrong text;
BEGIN
  IF notes IS NULL OR notes = '[]' THEN RETURN; END IF;
  PERFORM exact_columns('note', notes, ARRAY['digest', 'salt', 'text']);
  SELECT string_agg(n.digest, ', ') INTO wrong FROM jsonb_to_recordset(notes) AS n(digest text, salt text, text text)
   WHERE n.text IS NULL OR n.salt !~ '^([0-9a-f]{{2}}){{16,64}}$' OR strpos(named_in, '"' || n.digest || '"') = 0
      OR n.digest <> keyed_digest(decode(n.salt, 'hex'), n.text);
  IF wrong IS NOT NULL THEN
    PERFORM refuse('notes are named nowhere, or are not what their digest says: %s', wrong);
  END IF;
  INSERT INTO note (digest, salt, text)
    SELECT n.digest, n.salt, n.text FROM jsonb_to_recordset(notes) AS n(digest text, salt text, text text)
        ON CONFLICT DO NOTHING;
END $$;

-- The scan with its answer, last. What it says must be what its event says.
CREATE OR REPLACE FUNCTION keep_scan(doc jsonb, of_event bigint, said jsonb, bytes text) RETURNS void LANGUAGE plpgsql
  SET search_path = public, pg_temp AS $$
DECLARE s scan%ROWTYPE;
BEGIN
  PERFORM exact_columns('scan', jsonb_build_array(doc), ARRAY['device', 'client_id', 'mode', 'install', 'seq', 'raw',
    'fingerprint', 'taken', 'skew_ms', 'received', 'outcome', 'reason', 'answer']);
  s := jsonb_populate_record(NULL::scan, doc);
  IF NOT is_now(s.received) THEN
    PERFORM refuse('a scan received at %s is more than 5 s off the clock of the server', doc->>'received');
  END IF;
  IF jsonb_typeof(s.answer::jsonb) <> 'object' THEN
    PERFORM refuse('the answer to a scan is a JSON object');
  END IF;
  IF (s.outcome = 'refused') <> (of_event IS NULL) THEN
    PERFORM refuse('a scan that was refused has no event, and any other has one');
  END IF;
  IF of_event IS NULL THEN
    IF NOT is_canonical(s.raw) THEN
      PERFORM refuse('what a scan says is canonical JSON (RFC 8785)');
    END IF;
  ELSIF (s.mode, s.install, s.seq) IS DISTINCT FROM
        (said->>'mode', (said->>'install')::uuid, (said->>'seq')::bigint)
     -- What the scan says are the event's own words, which were found canonical.
     OR s.raw !~ ('^{{"kind":"' || (said->>'kind') || '","overrides":\\[(?:"[A-Z0-9-]+"(?:,"[A-Z0-9-]+")*)?\\],"says":')
     OR substr(s.raw, strpos(s.raw, '],"says":') + 9) <> (bytes::json->'says')::text || '}}' THEN
    PERFORM refuse('a scan and its event say two things');
  END IF;
  INSERT INTO scan (device, client_id, mode, install, seq, raw, fingerprint, taken, skew_ms, received, outcome, reason,
                    answer, event)
    VALUES (s.device, s.client_id, s.mode, s.install, s.seq, s.raw, s.fingerprint, s.taken, s.skew_ms, s.received,
            s.outcome, s.reason, s.answer, of_event);
END $$;
"""

ENTER = f"""
-- The ids of things by the names that `wanted` gives, as {{name: id}}; refuses a name that stands for nothing.
CREATE OR REPLACE FUNCTION known_ids(what regclass, wanted text[]) RETURNS jsonb LANGUAGE plpgsql STABLE
  SET search_path = public, pg_temp AS $$
DECLARE
  found jsonb;
  missing text;
BEGIN
  IF wanted = '{{}}' THEN RETURN '{{}}'; END IF;
  CASE what
    WHEN 'unit'::regclass THEN
      SELECT jsonb_object_agg(uid, id) INTO found FROM unit WHERE uid = ANY (wanted::uuid[]);
    WHEN 'carrier'::regclass THEN
      SELECT jsonb_object_agg(uid, id) INTO found FROM carrier WHERE uid = ANY (wanted::uuid[]);
    WHEN 'cycle'::regclass THEN
      SELECT jsonb_object_agg(uid, id) INTO found FROM cycle WHERE uid = ANY (wanted::uuid[]);
    WHEN 'hold'::regclass THEN
      SELECT jsonb_object_agg(uid, id) INTO found FROM hold WHERE uid = ANY (wanted::uuid[]);
    WHEN 'event'::regclass THEN
      SELECT jsonb_object_agg(uid, id) INTO found FROM event WHERE uid = ANY (wanted::uuid[]);
    ELSE
      SELECT jsonb_object_agg(kind || ':' || key, id) INTO found FROM resource
       WHERE (kind, key) IN (SELECT split_part(w, ':', 1), substr(w, strpos(w, ':') + 1) FROM unnest(wanted) AS w);
  END CASE;
  found := COALESCE(found, '{{}}');
  IF NOT found ?& wanted THEN
    SELECT string_agg(w, ', ') INTO missing FROM unnest(wanted) AS w WHERE NOT found ? w;
    PERFORM refuse('rows name a %s that is not recorded here: %s', what::text, missing);
  END IF;
  RETURN found;
END $$;
"""


def _known(what: str, *paths: str) -> str:
    """Looks up the ids of the things of a table that stand at these places of `r`; nothing where none of their keys is
    in the bytes, which most events have few of (canonical JSON writes a key in one way, right before its value)."""
    made = f"r ? '{what}s'"
    keys = [path.rpartition(".")[2] for path in paths]
    named = [made, *(f"strpos(bytes, '\"{key}\":\"') > 0" for key in dict.fromkeys(keys) if key != "uid")]
    return f"""
  IF {" OR ".join(named)} THEN
    {what}s := known_ids('{what}', {_named(*paths)});
  END IF;"""


def _named(*paths: str) -> str:
    """The distinct names that stand at these places of `r`, the rows; null names nothing."""
    found = "\n    || ".join(f"jsonb_path_query_array(r, '{path}')" for path in paths)
    return f"ARRAY(SELECT DISTINCT name FROM jsonb_array_elements_text(\n    {found}) AS name WHERE name IS NOT NULL)"


def _from_rows(part: str, table: str, columns: dict[str, str]) -> str:
    """Adds a row to `table` for each row `x` of a part, n from 0; `columns` are expressions of them."""
    return f"""
  IF r ? '{part}' THEN
    INSERT INTO {table} ({", ".join(f'"{c}"' for c in columns)}, event)
      SELECT {", ".join(columns.values())}, own
        FROM jsonb_array_elements(r->'{part}') WITH ORDINALITY AS each(x, n);
  END IF;"""


def _texts(*names: str) -> dict[str, str]:
    return {name: f"x->>'{name}'" for name in names}


def _numbers(*names: str) -> dict[str, str]:
    return {name: f"(x->>'{name}')::bigint" for name in names}


def _uid() -> dict[str, str]:
    return {"uid": "(x->>'uid')::uuid"}


def _id(column: str, ids: str, name: str = "") -> dict[str, str]:
    """The id of what a row names."""
    return {column: f"({ids}->>(x->>'{name or column}'))::bigint"}


UNITS = (
    *(f"$.*[*].{name}" for name in ("unit", "child", "parent", "plate", "hull", "load")),
    "$.units[*].uid", "$.logs[*].entries[*].content",
)  # fmt: skip
MADE_FIRST = (
    _from_rows("carriers", "carrier", {**_uid(), **_texts("kind")})
    + _known("carrier", "$.carriers[*].uid", "$.*[*].carrier")
    + _from_rows(
        "units", "unit",
        {**_uid(), **_id("carrier", "carriers"), **_texts("kind", "lot_no", "uom"), **_numbers("amount"),
         "about": "x->'about'"},
    )
    + _from_rows("cycles", "cycle", {**_uid(), **_texts("number")})
    + _known("unit", *UNITS)
    + _known("cycle", "$.cycles[*].uid", "$.*[*].cycle")
    + _known("event", "$.*[*].event", "$.*[*].of")
    + _from_rows("holds", "hold", {**_uid(), **_id("unit", "units"), **_texts("rule")})
    + _known("hold", "$.holds[*].uid", "$.hold_releases[*].hold")
)  # fmt: skip
MADE_THEN = "".join((
    _from_rows(
        "edges", "edge",
        {**_id("child", "units"), **_id("parent", "units"), "n": "n - 1", **_texts("role", "layer", "position", "uom"),
         **_numbers("amount"), "aside": "COALESCE((x->>'aside')::boolean, false)"},
    ),
    _from_rows("differences", "difference", {**_id("unit", "units"), **_numbers("amount"), **_texts("uom", "cause")}),
    _from_rows("touches", "event_unit", {**_id("unit", "units"), **_texts("role")}),
    _from_rows("resources", "event_resource", {**_id("resource", "resources", "thing"), **_texts("role")}),
    _from_rows("cooks", "cook", {**_id("cycle", "cycles"), **_id("unit", "units"), **_texts("position")}),
    _from_rows(
        "labels", "label",
        {**_texts("code"), **_id("carrier", "carriers"), **_id("unit", "units"), **_id("resource", "resources")},
    ),
    _from_rows(
        "serials", "serial", {**_texts("text", "format", "product", "month"), **_id("plate", "units")}
    ),
    _from_rows("hold_releases", "hold_release", {**_id("hold", "holds"), **_id("unit", "units")}),
))  # fmt: skip

DOOR = f"""
-- THE door: takes the canonical bytes of an event, makes the event and every row that its `rows` name, and keeps notes
-- and the scan with its answer. Nothing else adds to the truth. Returns the ids of all that the rows name, by name, and
-- what the withdrawn edges were. It works with its owner's rights: the app has none on these tables.
CREATE OR REPLACE FUNCTION enter_event(bytes text, notes jsonb, scan_doc jsonb) RETURNS json LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = public, pg_temp AS $$
DECLARE
  said jsonb := read_event(bytes);
  r jsonb := said->'rows';
  own bigint;
  units jsonb := '{{}}'; carriers jsonb := '{{}}'; cycles jsonb := '{{}}'; holds jsonb := '{{}}'; events jsonb := '{{}}';
  resources jsonb;
  named text[];
  voided json;
  wrong text;
BEGIN
  INSERT INTO event (body) VALUES (bytes) RETURNING id INTO own;
  PERFORM keep_notes(notes, bytes || COALESCE(scan_doc->>'raw', ''));
  IF r ? 'things' THEN
    INSERT INTO resource (uid, kind, key, event)
      SELECT (x->>'uid')::uuid, x->>'kind', x->>'key', own FROM jsonb_array_elements(r->'things') AS x
       WHERE x->>'uid' IS NOT NULL;
  END IF;
  named := {_named("$.resources[*].thing", "$.labels[*].resource")};
  IF r ? 'moulds' THEN
    named := named || ARRAY(SELECT 'mould:' || (x->>'mould') FROM jsonb_array_elements(r->'moulds') AS x);
  END IF;
  IF r ? 'instruments' THEN
    named := named || ARRAY(SELECT 'instrument:' || (x->>'instrument') FROM jsonb_array_elements(r->'instruments') AS x);
  END IF;
  IF r ? 'things' THEN
    named := named || ARRAY(SELECT (x->>'kind') || ':' || (x->>'key') FROM jsonb_array_elements(r->'things') AS x);
  END IF;
  resources := known_ids('resource', named);
  IF r ? 'things' THEN
    INSERT INTO revision (thing, version, body, valid_from, event)
      SELECT (resources->>((x->>'kind') || ':' || (x->>'key')))::bigint, (x->>'version')::int, x->>'body',
             (x->>'valid_from')::timestamptz, own FROM jsonb_array_elements(r->'things') AS x;
    SELECT string_agg((x->>'kind') || ':' || (x->>'key'), ', ') INTO wrong
      FROM jsonb_array_elements(r->'things') AS x
     WHERE (x->>'uid' IS NULL) = (x->'version' = '1') OR x->'valid_from' <> said->'happened'
        OR NOT (is_canonical(x->>'body') AND left(x->>'body', 1) = '{{')
        OR (x->>'version')::int <> (SELECT count(*) FROM revision
             WHERE thing = (resources->>((x->>'kind') || ':' || (x->>'key')))::bigint);
    IF wrong IS NOT NULL THEN
      PERFORM refuse('a revision follows the one before, is canonical JSON and holds from when it is made: %s', wrong);
    END IF;
  END IF;
{MADE_FIRST}
{MADE_THEN}
  IF r ? 'voids' THEN
    WITH gone AS (
      INSERT INTO edge_void (edge, event)
        SELECT e.id, own FROM jsonb_to_recordset(r->'voids') AS v(event text, n int)
          JOIN edge e ON e.event = (events->>v.event)::bigint AND e.n = v.n AND e.event <> own
      RETURNING edge)
    SELECT json_agg(json_build_array(o.uid, e.n, e.id, e.child, e.parent, e.amount, e.role, e.aside)) INTO voided
      FROM gone JOIN edge e ON e.id = gone.edge JOIN event o ON o.id = e.event;
    IF json_array_length(COALESCE(voided, '[]')) <> jsonb_array_length(r->'voids') THEN
      PERFORM refuse('an edge is withdrawn that no earlier event has recorded');
    END IF;
  END IF;
  IF r ? 'blobs' THEN
    INSERT INTO blob (sha256, size, type)
      SELECT b.sha256, b.size, b.type FROM jsonb_to_recordset(r->'blobs') AS b(sha256 text, size bigint, type text)
          ON CONFLICT DO NOTHING;
    IF EXISTS (SELECT FROM jsonb_to_recordset(r->'blobs') AS b(sha256 text, size bigint, type text)
                JOIN blob USING (sha256) WHERE (b.size, b.type) IS DISTINCT FROM (blob.size, blob.type)) THEN
      PERFORM refuse('a photo is recorded already with another size or type');
    END IF;
  END IF;
  IF r ? 'erased' THEN
    UPDATE note SET text = NULL, erased_by = own
     WHERE erased_by IS NULL AND digest IN (SELECT x->>'note' FROM jsonb_array_elements(r->'erased') AS x);
    IF (SELECT count(*) FROM note WHERE erased_by = own) <> jsonb_array_length(r->'erased') THEN
      PERFORM refuse('words are to be erased that are not there, or were erased before');
    END IF;
  END IF;
  PERFORM keep_scan(scan_doc, own, said, bytes);
  RETURN json_build_object('event', own, 'unit', units, 'carrier', carriers, 'cycle', cycles, 'hold', holds,
    'events', events, 'resource', resources, 'edges', COALESCE(voided, '[]'));
END $$;

-- The door for a scan that was refused: it is kept with its answer, and nothing else happened.
CREATE OR REPLACE FUNCTION enter_refusal(notes jsonb, scan_doc jsonb) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = public, pg_temp AS $$
BEGIN
  PERFORM keep_notes(notes, COALESCE(scan_doc->>'raw', ''));
  PERFORM keep_scan(scan_doc, NULL, NULL, NULL);
END $$;

-- The door for a scan whose id was used for something else: both are kept.
CREATE OR REPLACE FUNCTION enter_conflict(notes jsonb, scan_device text, scan_id uuid, scan_fingerprint text, scan_raw text)
  RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  IF NOT is_canonical(scan_raw) THEN
    PERFORM refuse('what a scan says is canonical JSON (RFC 8785)');
  END IF;
  PERFORM keep_notes(notes, scan_raw);
  INSERT INTO scan_conflict (device, client_id, fingerprint, raw, received)
    VALUES (scan_device, scan_id, scan_fingerprint, scan_raw, clock_timestamp());
END $$;
"""


# What write_rows takes: SET_COLUMNS with what later migrations changed. The one that adds or drops a column writes the
# function anew with `write_rows()`; that earlier ones go by it too does no harm, since nobody calls it before the last.
READ_MODEL_COLUMNS = {
    **SET_COLUMNS,
    "unit_state": ("unit", "status status_at balance overdrawn opened back_at"),
    "place_now": ("unit", "place since event stood stood_since"),
    "complaint": ("event", "number symptom product spot hull case open"),
    "case_file": ("event", "number open"),
    **{table: SET_COLUMNS[PLANT[0]] for table in PLANT_TABLES},
}


def write_rows() -> str:
    """The second half of a scan: what holds now, by the app's own rights. The truth is no longer written by it."""
    steps = [_drop(t, key) for t, (key, _) in READ_MODEL_COLUMNS.items()]
    steps += [_put(t, key, rest) for t, (key, rest) in READ_MODEL_COLUMNS.items()]
    return f"""
-- Read models from one document {{part: {{table: [row, ...]}}}}: `drop` holds primary keys to delete, `put` rows replace
-- by primary key. Runs with the caller's own rights. A table or a column it does not know fails the whole.
CREATE OR REPLACE FUNCTION write_rows(doc jsonb) RETURNS void LANGUAGE plpgsql SECURITY INVOKER
  SET search_path = public, pg_temp AS $$
BEGIN
  IF doc - ARRAY['drop', 'put'] <> '{{}}'
     OR COALESCE(doc->'drop', '{{}}') - {_text_array(READ_MODEL_COLUMNS)} <> '{{}}'
     OR COALESCE(doc->'put', '{{}}') - {_text_array(READ_MODEL_COLUMNS)} <> '{{}}' THEN
    RAISE EXCEPTION 'write_rows does not write all of: %', (SELECT string_agg(p.key || ' ' || k, ', ')
      FROM jsonb_each(doc) AS p, jsonb_object_keys(p.value) AS k) USING ERRCODE = 'invalid_parameter_value';
  END IF;
{"".join(steps)}
END $$;
"""


def plant_table(table: str) -> str:
    """SQL that lets a new table of plant data be written and read like the others (it stands in PLANT_TABLES)."""
    return (
        f"GRANT SELECT, INSERT, UPDATE, DELETE ON {table} TO lotwright_app;"
        f" GRANT SELECT ON {table} TO lotwright_auditor;"
        f"{part('things', PARTS['things'])}{write_rows()}"
    )


LOCKS = """
-- Scans share the gate; what rewrites history goes through it alone.
CREATE FUNCTION go_through_gate(alone boolean) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = public, pg_temp AS $$
BEGIN
  IF alone THEN LOCK TABLE gate IN EXCLUSIVE MODE; ELSE LOCK TABLE gate IN ROW SHARE MODE; END IF;
END $$;

-- Tries to sign in are counted one after another.
CREATE FUNCTION sign_in_turn() RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
BEGIN
  LOCK TABLE turn IN EXCLUSIVE MODE;
END $$;

-- Another transaction that asks for this name waits until this one has ended.
CREATE FUNCTION one_at_a_time(name text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = public, pg_temp AS $$
BEGIN
  PERFORM pg_advisory_xact_lock(hashtextextended(name, 0));
END $$;

-- The beginning of a scan: the gate (alone, or shared with other scans) and the scan's own id are locked, and only then
-- is its first answer looked for, so that a twin waits and finds it. Also tells the newest revision of plant data.
DROP FUNCTION open_scan(bigint, boolean, bigint, text, uuid, text);
CREATE FUNCTION open_scan(alone boolean, own bigint, scan_device text, scan_id uuid, scan_mode text)
  RETURNS TABLE (revision bigint, fingerprint text, answer text)
  LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
#variable_conflict use_column
BEGIN
  IF alone THEN LOCK TABLE gate IN EXCLUSIVE MODE; ELSE LOCK TABLE gate IN ROW SHARE MODE; END IF;
  PERFORM pg_advisory_xact_lock(own);
  RETURN QUERY SELECT (SELECT COALESCE(max(r.id), 0) FROM revision r), s.fingerprint, s.answer
    FROM (SELECT 1) AS one LEFT JOIN scan s
      ON s.device = scan_device AND s.client_id = scan_id AND (s.mode = scan_mode OR s.event IS NOT NULL)
   ORDER BY s.event LIMIT 1; -- what was recorded once, in either mode, is its answer for ever
END $$;
"""

SEAL = """
-- Leaves stand without a hole, and a head is larger than the one before and covers all leaves there are.
CREATE FUNCTION seal_follows() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
DECLARE
  leaves bigint := COALESCE((SELECT max(n) + 1 FROM leaf WHERE epoch = NEW.epoch), 0);
  last int := COALESCE((SELECT max(epoch) FROM leaf), 1);
BEGIN
  IF TG_TABLE_NAME = 'leaf' THEN
    IF NEW.n <> leaves OR NEW.epoch NOT IN (last, last + 1) THEN
      PERFORM refuse('leaf %s of epoch %s does not follow: the next is %s', NEW.n::text, NEW.epoch::text, leaves::text);
    END IF;
  ELSIF NEW.size <> leaves OR NEW.size <= COALESCE((SELECT max(size) FROM head WHERE epoch = NEW.epoch), 0)
        OR octet_length(NEW.root) <> 32 THEN
    PERFORM refuse('a head of size %s does not follow: epoch %s has %s leaves', NEW.size::text, NEW.epoch::text,
                   leaves::text);
  END IF;
  RETURN NEW;
END $$;

-- All that the sealer does: events that wait become the next leaves, in the order given, and a head covers them.
CREATE FUNCTION seal(of_epoch int, events bigint[], root bytea, note text) RETURNS bigint LANGUAGE plpgsql
  SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE leaves bigint;
BEGIN
  LOCK TABLE leaf IN SHARE ROW EXCLUSIVE MODE;
  SELECT COALESCE(max(n) + 1, 0) INTO leaves FROM leaf WHERE epoch = of_epoch;
  INSERT INTO leaf (epoch, n, event)
    SELECT of_epoch, leaves + o - 1, e FROM unnest(events) WITH ORDINALITY AS x(e, o) ORDER BY o;
  DELETE FROM seal_queue WHERE event = ANY (events);
  leaves := leaves + cardinality(events);
  INSERT INTO head (epoch, size, root, note) VALUES (of_epoch, leaves, root, note);
  RETURN leaves;
END $$;

-- A note may only be emptied, once, by an event that erases and says so of this note; salt and digest stay.
CREATE OR REPLACE FUNCTION note_only_erased() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
  IF TG_OP = 'UPDATE' AND NEW.digest = OLD.digest AND NEW.salt = OLD.salt AND NEW.text IS NULL
     AND OLD.erased_by IS NULL AND EXISTS (SELECT FROM event WHERE id = NEW.erased_by AND kind = 'erased'
       AND body::jsonb->'rows'->'erased' @> jsonb_build_array(jsonb_build_object('note', OLD.digest))) THEN
    RETURN NEW;
  END IF;
  RAISE EXCEPTION '% on note is refused: a note can only be erased, by an event that says so', TG_OP
    USING ERRCODE = 'insufficient_privilege';
END $$;
"""

FOLLOWS = {table: ("a_follows", "BEFORE INSERT", "seal_follows") for table in ("leaf", "head")}
# Every guard of the truth, for the start-up check: those of the first migrations and what this one adds.
GUARDS = {table: [*guards, *([FOLLOWS[table]] if table in FOLLOWS else [])] for table, guards in FIRST_GUARDS.items()}
# The guards of tables that the app writes itself: a check of the records only goes forward.
WRITTEN_GUARDS = {"record_check": [("goes_forward", "BEFORE INSERT OR UPDATE", "check_goes_forward")]}
CALLED_BY_APP = (
    "enter_event(text, jsonb, jsonb)", "enter_refusal(jsonb, jsonb)", "enter_conflict(jsonb, text, uuid, text, text)",
    "go_through_gate(boolean)", "sign_in_turn()", "one_at_a_time(text)", "open_scan(boolean, bigint, text, uuid, text)",
)  # fmt: skip


def rights() -> str:
    """Nobody but the owner adds to the truth; others call the functions that do."""
    truth = ", ".join((*(t for t in TRUTH if t not in SEALERS), "note"))
    own = "account_id_seq, wrong_pin_id_seq, label_number, cycle_number"
    triggers = "".join(
        f"CREATE TRIGGER {name} {when} ON {table} FOR EACH ROW EXECUTE FUNCTION {function}();"
        f" ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name};\n"
        for table, (name, when, function) in FOLLOWS.items()
    )
    return f"""
REVOKE INSERT ON {truth} FROM lotwright_app;
REVOKE UPDATE (text, erased_by) ON note FROM lotwright_app;
REVOKE USAGE ON ALL SEQUENCES IN SCHEMA public FROM lotwright_app;
GRANT USAGE ON SEQUENCE {own} TO lotwright_app;
REVOKE INSERT ON leaf, head FROM lotwright_sealer;
REVOKE DELETE ON seal_queue FROM lotwright_sealer;
GRANT EXECUTE ON FUNCTION {", ".join(CALLED_BY_APP)} TO lotwright_app;
GRANT EXECUTE ON FUNCTION seal(int, bigint[], bytea, text) TO lotwright_sealer;
GRANT SELECT ON known_kind, known_part TO lotwright_app, lotwright_auditor;
{triggers}"""


def known() -> str:
    """What the door knew when it was made."""
    return "\n".join([*(kind(k) for k in KINDS), *(part(name, keys) for name, keys in PARTS.items())])
