"""SQL of the truth's guards: what sets an event's columns, what refuses change, and who may do what.

Kept apart from the migration that runs it so that it can be read on its own. Released text is never edited:
a change is a new migration with its own text.
"""

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

# What write_rows adds, in the order of their foreign keys; the scan with its answer comes last.
ADDED = (
    "event", "note", "blob", "resource", "revision", "carrier", "unit", "edge", "edge_void", "difference",
    "event_unit", "event_resource", "cycle", "cook", "label", "serial", "hold", "hold_release", "job", "scan",
)  # fmt: skip


def _quoted(tables: tuple[str, ...]) -> str:
    return ", ".join(f"'{table}'" for table in tables)


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

WRITE = """
-- The columns of one table's rows, which must be the same in every row: populate_recordset leaves out what is
-- not asked for, and a value left out in silence would be a lost record.
CREATE FUNCTION columns_of(t text, docs jsonb) RETURNS text[] LANGUAGE plpgsql SECURITY INVOKER
  SET search_path = public, pg_temp AS $$
DECLARE cols text[];
BEGIN
  SELECT array_agg(c) INTO cols FROM jsonb_object_keys(docs->0) AS c;
  IF EXISTS (SELECT FROM jsonb_array_elements(docs) AS r
              WHERE NOT r ?& cols OR (SELECT count(*) FROM jsonb_object_keys(r)) <> cardinality(cols)) THEN
    RAISE EXCEPTION 'rows of % do not all have the same columns', t USING ERRCODE = 'invalid_parameter_value';
  END IF;
  RETURN cols;
END $$;

-- The one write of record(): rows of the truth, then read models, from one document {part: {table: [row, ...]}}.
-- Runs with the caller's own rights, table by table in a fixed order. `add` rows are new, `drop` holds primary keys
-- to delete, `put` rows replace by primary key. A table or a column it does not know fails the whole.
CREATE FUNCTION write_rows(doc jsonb) RETURNS void LANGUAGE plpgsql SECURITY INVOKER
  SET search_path = public, pg_temp AS $$
DECLARE
  added text[] := ARRAY[__ADDED__];
  set_ text[] := ARRAY[__SET__];
  t text; cols text; keys text; sets text; strange text;
BEGIN
  SELECT string_agg(part, ', ') INTO strange FROM (
    SELECT p.key AS part FROM jsonb_each(doc) AS p WHERE p.key NOT IN ('add', 'drop', 'put')
    UNION ALL
    SELECT p.key || ' ' || k FROM jsonb_each(doc) AS p, jsonb_object_keys(p.value) AS k
     WHERE k <> ALL (CASE p.key WHEN 'add' THEN added ELSE set_ END)) AS x;
  IF strange IS NOT NULL THEN
    RAISE EXCEPTION 'write_rows does not write: %', strange USING ERRCODE = 'invalid_parameter_value';
  END IF;
  FOREACH t IN ARRAY added LOOP
    CONTINUE WHEN COALESCE(jsonb_array_length(doc->'add'->t), 0) = 0;
    SELECT string_agg(format('%I', c), ', ') INTO cols FROM unnest(columns_of(t, doc->'add'->t)) AS c;
    EXECUTE format('INSERT INTO %I (%s) SELECT %s FROM jsonb_populate_recordset(NULL::%I, $1)%s', t, cols, cols, t,
      CASE WHEN t IN ('job', 'blob', 'note') THEN ' ON CONFLICT DO NOTHING' ELSE '' END) USING doc->'add'->t;
  END LOOP;
  FOREACH t IN ARRAY set_ LOOP
    CONTINUE WHEN COALESCE(jsonb_array_length(doc->'drop'->t), 0) = 0
              AND COALESCE(jsonb_array_length(doc->'put'->t), 0) = 0;
    SELECT string_agg(format('%I', a.attname), ', ') INTO keys FROM pg_index i
      JOIN pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = ANY (i.indkey)
     WHERE i.indrelid = t::regclass AND i.indisprimary;
    IF jsonb_array_length(doc->'drop'->t) > 0 THEN
      EXECUTE format('DELETE FROM %I WHERE (%s) IN (SELECT %s FROM jsonb_populate_recordset(NULL::%I, $1))',
        t, keys, keys, t) USING doc->'drop'->t;
    END IF;
    IF jsonb_array_length(doc->'put'->t) > 0 THEN
      SELECT string_agg(format('%I', c), ', '), string_agg(format('%I = EXCLUDED.%I', c, c), ', ')
        INTO cols, sets FROM unnest(columns_of(t, doc->'put'->t)) AS c;
      EXECUTE format('INSERT INTO %I (%s) SELECT %s FROM jsonb_populate_recordset(NULL::%I, $1)
        ON CONFLICT (%s) DO UPDATE SET %s', t, cols, cols, t, keys, sets) USING doc->'put'->t;
    END IF;
  END LOOP;
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
""".replace("__ADDED__", _quoted(ADDED)).replace("__SET__", _quoted((*READ_MODELS, *PLANT)))


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
GRANT EXECUTE ON FUNCTION write_rows(jsonb), columns_of(text, jsonb),
  lock_rows(bigint[], bigint[], text[], bigint[]) TO lotwright_app;
GRANT SELECT ON event, seal_queue, leaf, head TO lotwright_sealer;
GRANT INSERT ON leaf, head TO lotwright_sealer;
GRANT DELETE ON seal_queue TO lotwright_sealer;
GRANT SELECT ON {", ".join((*TRUTH, *READ_MODELS, *PLANT))}, installation TO lotwright_auditor;
"""
