"""A check of the records only goes forward: it begins with nothing found, forgets no difference, and stays once ended.

It is the app's login that checks, so whoever has that login's password can still write that a check of now found
nothing; no result of an earlier day can be changed or dated back, and `manage.py check_records` asks anew.
"""

from django.db import migrations

FORWARD = """
CREATE FUNCTION check_goes_forward() RETURNS trigger LANGUAGE plpgsql SET search_path = public, pg_temp AS $$
BEGIN
    IF TG_OP = 'INSERT' THEN
        IF (NEW.at, NEW.events, NEW.differences, NEW.found) <> (0, 0, 0, '[]'::jsonb) OR NEW.ended IS NOT NULL THEN
            RAISE EXCEPTION 'A check of the records begins with nothing looked at.';
        END IF;
        NEW.began := clock_timestamp();
        RETURN NEW;
    END IF;
    IF OLD.ended IS NOT NULL THEN
        RAISE EXCEPTION 'What a check of the records found stays as it is.';
    END IF;
    NEW.began := OLD.began;
    IF (NEW.place, NEW.upto) <> (OLD.place, OLD.upto) OR NEW.at < OLD.at
       OR NEW.events < OLD.events OR NEW.differences < OLD.differences
       OR jsonb_array_length(NEW.found) < jsonb_array_length(OLD.found)
       OR (NEW.ended IS NOT NULL AND NEW.at < NEW.upto) THEN
        RAISE EXCEPTION 'A check of the records only goes forward.';
    END IF;
    IF NEW.ended IS NOT NULL THEN
        NEW.ended := clock_timestamp();
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER goes_forward BEFORE INSERT OR UPDATE ON record_check FOR EACH ROW EXECUTE FUNCTION check_goes_forward();
ALTER TABLE record_check ENABLE ALWAYS TRIGGER goes_forward;
"""
BACK = "DROP TRIGGER goes_forward ON record_check; DROP FUNCTION check_goes_forward();"


class Migration(migrations.Migration):
    dependencies = [("trace", "0006_counts_and_emptyings")]

    operations = [migrations.RunSQL(FORWARD, BACK)]
