"""SQL of the truth's guards: what sets an event's columns, what refuses change, and who may do what.

Kept apart from the migration that runs it so that it can be read on its own. Released text is never edited:
a change is a new migration with its own text.
"""

from collections.abc import Iterable

TRUTH = (
    "event", "scan", "scan_conflict", "carrier", "unit", "edge", "edge_void", "difference", "event_unit",
    "event_resource", "cycle", "cook", "label", "serial", "hold", "hold_release", "resource", "revision",
    "blob", "leaf", "head",
)  # fmt: skip
READ_MODELS = (
    "unit_state", "carrier_state", "carrier_log", "mould_state", "instrument_state", "serial_state", "label_state",
    "unit_hold", "place_now", "reading", "discrepancy", "gap",
)  # fmt: skip
PLANT = (
    "plant_place", "plant_setting", "plant_mould", "plant_machine", "plant_instrument", "plant_material",
    "plant_supplier", "plant_product", "plant_works_order", "plant_consignee", "plant_sales_order",
    "plant_device", "plant_person",
)  # fmt: skip
MUTABLE = (*READ_MODELS, *PLANT, "job", "account", "wrong_pin", "django_session")
SEALERS = ("seal_queue", "leaf", "head")

ROLES = """
DO $$
DECLARE missing text;
BEGIN
  SELECT string_agg(want, ', ') INTO missing FROM unnest(ARRAY['lotwright_owner', 'lotwright_migrator',
    'lotwright_app', 'lotwright_sealer', 'lotwright_auditor']) AS want
   WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = want);
  IF missing IS NOT NULL THEN
    RAISE EXCEPTION 'Roles missing in this cluster: %. Run deploy/roles.sql as a superuser first.', missing;
  END IF;
END $$;
"""

FUNCTIONS = """
-- Sets every column of an event from its bytes, and refuses a row whose own columns say otherwise. Times,
-- identifiers and numbers stand in the bytes in one form only: 'now' or 'today' would be a time to PostgreSQL too.
CREATE FUNCTION event_from_body() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
DECLARE
  b jsonb := NEW.body::jsonb;
  want event%ROWTYPE;
  form text := 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"';
BEGIN
  want := NEW;
  want.uid := (b->>'uid')::uuid;
  want.leaf := sha256('\\x00'::bytea || convert_to(NEW.body, 'UTF8'));
  want.kind := b->>'kind';
  want.ver := (b->>'ver')::smallint;
  want.happened := (b->>'happened')::timestamptz;
  want.offset_min := (b->>'offset_min')::smallint;
  want.unsure_ms := (b->>'unsure_ms')::int;
  want.recorded := (b->>'recorded')::timestamptz;
  want.install := (b->>'install')::uuid;
  want.seq := (b->>'seq')::bigint;
  want.person := b->>'person';
  want.station := b->>'station';
  want.corrects := NULL;
  want.why := b->>'why';
  IF NOT b @> jsonb_strip_nulls(jsonb_build_object(
      'uid', want.uid, 'kind', want.kind, 'ver', want.ver, 'happened', to_char(want.happened AT TIME ZONE 'UTC', form),
      'offset_min', want.offset_min, 'unsure_ms', want.unsure_ms,
      'recorded', to_char(want.recorded AT TIME ZONE 'UTC', form), 'install', want.install, 'seq', want.seq,
      'person', want.person, 'station', want.station, 'corrects', (b->>'corrects')::uuid, 'why', want.why))
     OR NOT isfinite(want.happened) OR NOT isfinite(want.recorded) THEN
    RAISE EXCEPTION 'event bytes hold a time, an identifier or a number in another form than the one they must have'
      USING ERRCODE = 'check_violation';
  END IF;
  IF b->>'corrects' IS NOT NULL THEN
    SELECT id INTO want.corrects FROM event WHERE uid = (b->>'corrects')::uuid;
    IF want.corrects IS NULL THEN
      RAISE EXCEPTION 'event % is to be corrected, but it is not recorded here', b->>'corrects'
        USING ERRCODE = 'foreign_key_violation';
    END IF;
  END IF;
  IF (COALESCE(NEW.uid, want.uid), COALESCE(NEW.leaf, want.leaf), COALESCE(NEW.kind, want.kind),
          COALESCE(NEW.ver, want.ver), COALESCE(NEW.happened, want.happened),
          COALESCE(NEW.offset_min, want.offset_min), COALESCE(NEW.unsure_ms, want.unsure_ms),
          COALESCE(NEW.recorded, want.recorded), COALESCE(NEW.install, want.install),
          COALESCE(NEW.seq, want.seq), COALESCE(NEW.person, want.person), COALESCE(NEW.station, want.station),
          COALESCE(NEW.corrects, want.corrects), COALESCE(NEW.why, want.why))
     IS DISTINCT FROM (want.uid, want.leaf, want.kind, want.ver, want.happened, want.offset_min, want.unsure_ms,
          want.recorded, want.install, want.seq, want.person, want.station, want.corrects, want.why) THEN
    RAISE EXCEPTION 'event columns disagree with its body' USING ERRCODE = 'check_violation';
  END IF;
  IF abs(extract(epoch FROM want.recorded - clock_timestamp())) > 5
     AND NOT EXISTS (SELECT FROM installation WHERE demo) THEN
    RAISE EXCEPTION 'recorded time % is more than 5 s off the clock of the server', want.recorded
      USING ERRCODE = 'check_violation';
  END IF;
  RETURN want;
END $$;

-- An edge and its withdrawal carry the recorded time of their event, an edge its transaction, whatever a client sends.
CREATE FUNCTION recorded_from_event() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
  SELECT recorded INTO NEW.recorded FROM event WHERE id = NEW.event;
  IF TG_TABLE_NAME = 'edge' THEN
    NEW.xid := pg_current_xact_id();
  END IF;
  RETURN NEW;
END $$;

CREATE FUNCTION truth_never_changes() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
  RAISE EXCEPTION '% on % is refused: records are added, never changed or removed', TG_OP, TG_TABLE_NAME
    USING ERRCODE = 'insufficient_privilege';
END $$;

-- A note may only be emptied, once, by an event that says so; salt and digest stay.
CREATE FUNCTION note_only_erased() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
  IF TG_OP = 'UPDATE' AND NEW.digest = OLD.digest AND NEW.salt = OLD.salt AND NEW.text IS NULL
     AND NEW.erased_by IS NOT NULL AND OLD.erased_by IS NULL THEN
    RETURN NEW;
  END IF;
  RAISE EXCEPTION '% on note is refused: a note can only be erased, by an event', TG_OP
    USING ERRCODE = 'insufficient_privilege';
END $$;

-- The app has no right on the queue; this function runs as its owner, so each event enters it all the same.
CREATE FUNCTION event_to_queue() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = public, pg_temp AS $$
BEGIN
  INSERT INTO seal_queue (event) VALUES (NEW.id);
  RETURN NULL;
END $$;

-- An event leaves the queue by the sealer alone, and only once a leaf covers it.
CREATE FUNCTION queue_only_by_trigger() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
  IF TG_OP = 'INSERT' AND pg_trigger_depth() > 1 THEN RETURN NEW; END IF;
  IF TG_OP = 'DELETE' AND session_user = 'lotwright_sealer'
     AND EXISTS (SELECT FROM leaf WHERE event = OLD.event) THEN RETURN OLD; END IF;
  RAISE EXCEPTION '% on seal_queue is refused', TG_OP USING ERRCODE = 'insufficient_privilege';
END $$;

CREATE FUNCTION demo_only_when_empty() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
  IF TG_OP = 'INSERT' AND NOT EXISTS (SELECT FROM event) THEN RETURN NEW; END IF;
  RAISE EXCEPTION 'a database is marked at its creation, before its first record, and never again'
    USING ERRCODE = 'insufficient_privilege';
END $$;
"""

# What write_rows takes: table -> the columns that each row of it has, no more and no fewer.
ADDED_COLUMNS = {
    "event": "id body",
    "note": "digest salt text",
    "blob": "sha256 size type",
    "resource": "id uid kind key event",
    "revision": "thing version body valid_from event",
    "carrier": "id uid kind event",
    "unit": "id uid carrier kind lot_no amount uom about event",
    "edge": "id child parent event n role layer position amount uom aside",
    "edge_void": "edge event",
    "difference": "event unit amount uom cause",
    "event_unit": "event unit role",
    "event_resource": "event resource role",
    "cycle": "id uid number event",
    "cook": "cycle unit position event",
    "label": "code carrier unit resource event",
    "serial": "text plate format product month event",
    "hold": "id uid event unit rule",
    "hold_release": "hold unit event",
    "job": "id kind key args state done total error made touched",
    "scan": "device client_id mode install seq raw fingerprint taken skew_ms received outcome reason answer event",
}
# Read models: the primary key first, then the rest.
SET_COLUMNS = {
    "unit_state": ("unit", "status status_at balance overdrawn rank opened"),
    "carrier_state": ("carrier", "content order layer"),
    "carrier_log": ("content", "carrier since until event"),
    "mould_state": ("mould", "stage load cycle arm order shots since_service since_vent since_release"),
    "instrument_state": ("instrument", "checked_at passed"),
    "serial_state": ("text", "hull standing"),
    "label_state": ("code", "replaced_by"),
    "unit_hold": ("unit hold", ""),
    "place_now": ("unit", "place since event"),
    "reading": ("event n", "unit zone quantity value uom instrument"),
    "discrepancy": ("event n", "kind unit closed_by"),
    "gap": ("unit what which", "event"),
    **{table: ("key", "resource version body ended") for table in PLANT},
}
ONCE = ("note", "blob", "job")  # the same row again is no error: it is there already


def _names(columns: str) -> str:
    return ", ".join(f'"{c}"' for c in columns.split())


def _insert(table: str, columns: str, part: str, ending: str) -> str:
    rows = f"doc->'{part}'->'{table}'"
    return f"""
  IF {rows} IS NOT NULL THEN
    PERFORM exact_columns('{table}', {rows}, ARRAY[{", ".join(f"'{c}'" for c in columns.split())}]);
    INSERT INTO {table} ({_names(columns)})
      SELECT {_names(columns)} FROM jsonb_populate_recordset(NULL::{table}, {rows}){ending};
  END IF;"""


def _add(table: str, columns: str) -> str:
    return _insert(table, columns, "add", " ON CONFLICT DO NOTHING" if table in ONCE else "")


def _drop(table: str, key: str) -> str:
    rows = f"doc->'drop'->'{table}'"
    return f"""
  IF {rows} IS NOT NULL THEN
    PERFORM exact_columns('{table}', {rows}, {_text_array(key.split())});
    DELETE FROM {table} WHERE ({_names(key)}) IN
      (SELECT {_names(key)} FROM jsonb_populate_recordset(NULL::{table}, {rows}));
  END IF;"""


def _put(table: str, key: str, rest: str) -> str:
    sets = ", ".join(f'"{c}" = EXCLUDED."{c}"' for c in rest.split())
    ending = f" ON CONFLICT ({_names(key)}) DO {f'UPDATE SET {sets}' if sets else 'NOTHING'}"
    return _insert(table, f"{key} {rest}", "put", ending)


def _text_array(names: Iterable[str]) -> str:
    return "ARRAY[" + ", ".join(f"'{n}'" for n in names) + "]"


def write_rows() -> str:
    """The text of the one write of record(). Written out table by table so that the server keeps each plan."""
    steps = [_add(t, c) for t, c in ADDED_COLUMNS.items()]
    steps += [_drop(t, key) for t, (key, _) in SET_COLUMNS.items()]
    steps += [_put(t, key, rest) for t, (key, rest) in SET_COLUMNS.items()]
    return f"""
-- Every row of a table has just these columns: a value left out, or not known, would be a lost record.
CREATE FUNCTION exact_columns(t text, docs jsonb, cols text[]) RETURNS void LANGUAGE plpgsql SECURITY INVOKER
  SET search_path = public, pg_temp AS $$
BEGIN
  IF EXISTS (SELECT FROM jsonb_array_elements(docs) AS r WHERE NOT r ?& cols OR r - cols <> '{{}}') THEN
    RAISE EXCEPTION 'rows of % do not have the columns %', t, cols USING ERRCODE = 'invalid_parameter_value';
  END IF;
END $$;

-- The one write of record(): rows of the truth, then read models, from one document {{part: {{table: [row, ...]}}}}.
-- Runs with the caller's own rights, table by table in a fixed order. `add` rows are new, `drop` holds primary keys
-- to delete, `put` rows replace by primary key. A table or a column it does not know fails the whole.
CREATE FUNCTION write_rows(doc jsonb) RETURNS void LANGUAGE plpgsql SECURITY INVOKER
  SET search_path = public, pg_temp AS $$
BEGIN
  IF doc - ARRAY['add', 'drop', 'put'] <> '{{}}'
     OR COALESCE(doc->'add', '{{}}') - {_text_array(ADDED_COLUMNS)} <> '{{}}'
     OR COALESCE(doc->'drop', '{{}}') - {_text_array(SET_COLUMNS)} <> '{{}}'
     OR COALESCE(doc->'put', '{{}}') - {_text_array(SET_COLUMNS)} <> '{{}}' THEN
    RAISE EXCEPTION 'write_rows does not write all of: %', (SELECT string_agg(p.key || ' ' || k, ', ')
      FROM jsonb_each(doc) AS p, jsonb_object_keys(p.value) AS k) USING ERRCODE = 'invalid_parameter_value';
  END IF;
{"".join(steps)}
END $$;
"""


LOCK = """
-- The beginning of a scan: the gate (alone, or shared with other scans) and the scan's own id are locked, and only then
-- is its first answer looked for, so that a twin waits and finds it. Also tells the newest revision of plant data.
CREATE FUNCTION open_scan(gate bigint, alone boolean, own bigint, scan_device text, scan_id uuid, scan_mode text)
  RETURNS TABLE (revision bigint, fingerprint text, answer text)
  LANGUAGE plpgsql SECURITY INVOKER SET search_path = public, pg_temp AS $$
#variable_conflict use_column
BEGIN
  IF alone THEN PERFORM pg_advisory_xact_lock(gate); ELSE PERFORM pg_advisory_xact_lock_shared(gate); END IF;
  PERFORM pg_advisory_xact_lock(own);
  RETURN QUERY SELECT (SELECT COALESCE(max(r.id), 0) FROM revision r), s.fingerprint, s.answer
    FROM (SELECT 1) AS one LEFT JOIN scan s
      ON s.device = scan_device AND s.client_id = scan_id AND (s.mode = scan_mode OR s.event IS NOT NULL)
   ORDER BY s.event LIMIT 1; -- what was recorded once, in either mode, is its answer for ever
END $$;

-- Locks read-model rows in one fixed order (carriers, moulds, serials, units; each by key) and tells the clock
-- as it stands once they are held. Event rows are never locked.
CREATE FUNCTION lock_rows(carriers bigint[], moulds bigint[], serials text[], units bigint[]) RETURNS timestamptz
  LANGUAGE plpgsql SECURITY INVOKER SET search_path = public, pg_temp AS $$
DECLARE more bigint[];
BEGIN
  PERFORM 1 FROM (SELECT 1 FROM carrier_state WHERE carrier = ANY (carriers) ORDER BY carrier FOR UPDATE) x;
  PERFORM 1 FROM (SELECT 1 FROM mould_state WHERE mould = ANY (moulds) ORDER BY mould FOR UPDATE) x;
  PERFORM 1 FROM (SELECT 1 FROM serial_state WHERE text = ANY (serials) ORDER BY text FOR UPDATE) x;
  SELECT array_agg(u) INTO more FROM (
    SELECT unnest(units) AS u
    UNION SELECT content FROM carrier_state WHERE carrier = ANY (carriers)
    UNION SELECT load FROM mould_state WHERE mould = ANY (moulds)
    UNION SELECT hull FROM serial_state WHERE text = ANY (serials)) x WHERE u IS NOT NULL;
  PERFORM 1 FROM (SELECT 1 FROM unit_state WHERE unit = ANY (more) ORDER BY unit FOR UPDATE) x;
  RETURN clock_timestamp();
END $$;
"""


# Table -> its triggers: (name, when and on what, function). All are ENABLE ALWAYS; the start-up check looks for each.
GUARD_TABLE = ("guard_table", "BEFORE TRUNCATE", "truth_never_changes")
GUARDS = {
    **{t: [("guard_row", "BEFORE UPDATE OR DELETE", "truth_never_changes"), GUARD_TABLE] for t in TRUTH},
    "note": [("guard_row", "BEFORE UPDATE OR DELETE", "note_only_erased"), GUARD_TABLE],
    "seal_queue": [("guard_row", "BEFORE INSERT OR UPDATE OR DELETE", "queue_only_by_trigger"), GUARD_TABLE],
    "installation": [("guard_row", "BEFORE INSERT OR UPDATE OR DELETE", "demo_only_when_empty"), GUARD_TABLE],
}
GUARDS["event"] += [
    ("a_from_body", "BEFORE INSERT", "event_from_body"),
    ("z_to_queue", "AFTER INSERT", "event_to_queue"),
]
for _table in ("edge", "edge_void"):
    GUARDS[_table] += [("a_recorded", "BEFORE INSERT", "recorded_from_event")]


def triggers() -> str:
    return "\n".join(
        f"CREATE TRIGGER {name} {when} ON {table} FOR EACH {'STATEMENT' if name == 'guard_table' else 'ROW'}"
        f" EXECUTE FUNCTION {function}(); ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name};"
        for table, guards in GUARDS.items()
        for name, when, function in guards
    )


def grants() -> str:
    insert_only = [t for t in TRUTH if t not in SEALERS]
    return f"""
REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA public FROM PUBLIC;
ALTER DEFAULT PRIVILEGES REVOKE EXECUTE ON FUNCTIONS FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO lotwright_app, lotwright_sealer, lotwright_auditor;
GRANT SELECT, INSERT ON {", ".join(insert_only)}, note TO lotwright_app;
GRANT UPDATE (text, erased_by) ON note TO lotwright_app;
GRANT SELECT, INSERT, UPDATE, DELETE ON {", ".join(MUTABLE)} TO lotwright_app;
GRANT SELECT ON installation, django_migrations, django_content_type TO lotwright_app;
GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO lotwright_app;
GRANT EXECUTE ON FUNCTION write_rows(jsonb), exact_columns(text, jsonb, text[]),
  open_scan(bigint, boolean, bigint, text, uuid, text),
  lock_rows(bigint[], bigint[], text[], bigint[]) TO lotwright_app;
GRANT SELECT ON event, seal_queue, leaf, head TO lotwright_sealer;
GRANT INSERT ON leaf, head TO lotwright_sealer;
GRANT DELETE ON seal_queue TO lotwright_sealer;
GRANT SELECT ON {", ".join((*TRUTH, *READ_MODELS, *PLANT))}, installation TO lotwright_auditor;
"""
