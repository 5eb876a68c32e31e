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
