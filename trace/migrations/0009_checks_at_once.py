"""Asks of the usual row what was asked of any: the keys of a flat object, the columns of one row, without a query each.

What is refused stays the same; tests/schema holds the door against bytes of every sort.
"""

from django.db import migrations

IN_ORDER = r"""
-- True when each object in these documents, at any depth, has its keys in the order of RFC 8785, 3.2.3, and none twice:
-- by UTF-16 code units. In ASCII that is the order of the bytes, so a flat object's keys are gone through as they stand;
-- what holds others, or other characters, is asked as a whole. Text compares by code point, where the characters beyond
-- U+FFFF come last and not before U+E000; a mark in front of both sorts puts them right.
CREATE OR REPLACE FUNCTION keys_in_order(documents json[]) RETURNS boolean LANGUAGE plpgsql IMMUTABLE
  SET search_path = public, pg_temp AS $$
DECLARE
  document json;
  others json[] := '{}';
  said text;
  name text;
  before text;
BEGIN
  FOREACH document IN ARRAY documents LOOP
    said := document::text;
    CONTINUE WHEN document IS NULL OR strpos(said, '{') = 0;
    IF octet_length(said) > length(said) OR said !~ '^\{[^][{}]*\}$' THEN
      others := array_append(others, document);
      CONTINUE;
    END IF;
    before := NULL;
    FOR name IN SELECT json_object_keys(document) LOOP
      IF name COLLATE "C" <= before COLLATE "C" THEN
        RETURN false;
      END IF;
      before := name;
    END LOOP;
  END LOOP;
  RETURN cardinality(others) = 0 OR NOT EXISTS (
    WITH RECURSIVE inside(part) AS (
      SELECT unnest(others)
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
"""
COLUMNS = """
CREATE OR REPLACE FUNCTION exact_columns(t text, docs jsonb, cols text[]) RETURNS void LANGUAGE plpgsql SECURITY INVOKER
  SET search_path = public, pg_temp AS $$
DECLARE one jsonb := CASE WHEN jsonb_array_length(docs) = 1 THEN docs->0 END;
BEGIN
  IF (CASE WHEN one IS NOT NULL THEN NOT one ?& cols OR one - cols <> '{}'
           ELSE EXISTS (SELECT FROM jsonb_array_elements(docs) AS r WHERE NOT r ?& cols OR r - cols <> '{}') END) THEN
    RAISE EXCEPTION 'rows of % do not have the columns %', t, cols USING ERRCODE = 'invalid_parameter_value';
  END IF;
END $$;
"""


class Migration(migrations.Migration):
    dependencies = [("trace", "0008_readings_put_right")]

    operations = [migrations.RunSQL(IN_ORDER + COLUMNS, migrations.RunSQL.noop)]
