-- The rights on one database of Lotwright, after deploy/roles.sql; run in that database by whoever made it, again at will.
-- Rights on tables are given by the migrations that make the tables.

DO $$
BEGIN
    -- No CONNECT for the rest of the world. No TEMP: a temporary table could stand in for a real one inside a trigger.
    EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database());
    EXECUTE format(
        'GRANT CONNECT ON DATABASE %I TO lotwright_migrator, lotwright_app, lotwright_sealer, lotwright_auditor',
        current_database()
    );
END
$$;
REVOKE ALL ON SCHEMA public FROM PUBLIC;
ALTER SCHEMA public OWNER TO lotwright_owner;
GRANT USAGE ON SCHEMA public TO lotwright_app, lotwright_sealer, lotwright_auditor;

-- Advisory locks and large objects are open to every login by default: with the first one of them could use up the
-- server's table of locks or wait for a scan's own, with the second fill the disk. The owner keeps the locks that the
-- functions of the door take. Where this is run by one who is no superuser, these stay as they are and a notice says so.
DO $$
DECLARE
    open_to_all text;
BEGIN
    IF NOT (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN
        RAISE NOTICE 'Advisory locks and large objects stay open to every login: only a superuser may close them.';
        RETURN;
    END IF;
    FOR open_to_all IN
        SELECT oid::regprocedure::text FROM pg_proc
         WHERE pronamespace = 'pg_catalog'::regnamespace AND prokind = 'f'
           AND (proname ~ '^pg_(try_)?advisory_' OR proname ~ '^lo_' OR proname IN ('lowrite', 'loread', 'pg_notify'))
    LOOP
        EXECUTE format('REVOKE EXECUTE ON FUNCTION %s FROM PUBLIC', open_to_all);
        IF open_to_all ~ 'advisory_xact_lock' THEN
            EXECUTE format('GRANT EXECUTE ON FUNCTION %s TO lotwright_owner', open_to_all);
        END IF;
    END LOOP;
END
$$;
