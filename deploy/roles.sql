-- The five roles of Lotwright. Roles belong to the whole server, not to one database; run this once a server, again at will:
--
--     psql --dbname=postgres --file=deploy/roles.sql
--
-- It sets no passwords. A plant sets them itself, so that they stand in no file and no shell history:
--
--     psql --dbname=postgres --command='\password lotwright_app'      (and migrator, sealer, auditor)
--
-- then makes its database and gives the rights on it:
--
--     psql --dbname=postgres --command='CREATE DATABASE lotwright OWNER lotwright_owner ENCODING ''UTF8'' TEMPLATE template0'
--     psql --dbname=lotwright --file=deploy/database.sql
--
-- and sets DATABASE_URL (app), MIGRATE_DATABASE_URL (migrator), SEAL_DATABASE_URL (sealer), AUDIT_DATABASE_URL (auditor).
-- (The private PostgreSQL of the demo and the tests: deploy/postgres.py does all of this.)
--
--   lotwright_owner     owns every table; cannot log in, so that nobody works with an owner's rights by accident
--   lotwright_migrator  logs in for migrations only and does SET ROLE lotwright_owner; owns nothing itself
--   lotwright_app       the web and the worker: enters records through functions, never adds or changes a row of them
--   lotwright_sealer    takes records from the queue into the sealed tree
--   lotwright_auditor   reads
--
-- Kept to what PostgreSQL 15 has, and to what a server manager without superuser rights may do: a role is made with plain
-- CREATE ROLE (never superuser, createdb or createrole), and one that already has such a right stops the script.

DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lotwright_owner') THEN
        CREATE ROLE lotwright_owner NOLOGIN;
    END IF;
    -- NOINHERIT: without SET ROLE the migrator can do nothing at all, so nothing comes to belong to the wrong role.
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lotwright_migrator') THEN
        CREATE ROLE lotwright_migrator LOGIN NOINHERIT;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lotwright_app') THEN
        CREATE ROLE lotwright_app LOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lotwright_sealer') THEN
        CREATE ROLE lotwright_sealer LOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'lotwright_auditor') THEN
        CREATE ROLE lotwright_auditor LOGIN;
    END IF;
END
$$;

DO $$
DECLARE
    wrong text;
BEGIN
    SELECT string_agg(rolname, ', ') INTO wrong
    FROM pg_roles
    WHERE rolname IN ('lotwright_owner', 'lotwright_migrator', 'lotwright_app', 'lotwright_sealer', 'lotwright_auditor')
      AND (rolsuper OR rolcreatedb OR rolcreaterole OR rolreplication OR rolbypassrls
           OR rolcanlogin = (rolname = 'lotwright_owner'));
    IF wrong IS NOT NULL THEN
        RAISE EXCEPTION 'These roles have rights they must not have: %. Take them back with ALTER ROLE and run this again.', wrong;
    END IF;
    SELECT string_agg(member.rolname || ' in ' || granted.rolname, ', ') INTO wrong
    FROM pg_auth_members m
    JOIN pg_roles member ON member.oid = m.member
    JOIN pg_roles granted ON granted.oid = m.roleid
    WHERE member.rolname IN ('lotwright_owner', 'lotwright_app', 'lotwright_sealer', 'lotwright_auditor');
    IF wrong IS NOT NULL THEN
        RAISE EXCEPTION 'These roles are members of others and must not be: %. Take it back with REVOKE and run this again.', wrong;
    END IF;
    IF NOT EXISTS (
        SELECT FROM pg_auth_members
        WHERE roleid = 'lotwright_owner'::regrole AND member = 'lotwright_migrator'::regrole
    ) THEN
        GRANT lotwright_owner TO lotwright_migrator;
    END IF;
END
$$;

-- How much of the server each login can take. The app's limit leaves room for the others within 60 connections; a plant
-- with more web workers sets it higher (ALTER ROLE lotwright_app CONNECTION LIMIT n) and max_connections with it: a limit
-- that is set already stays. Time limits are what a session begins with, and it may change them; connections and
-- temporary files it cannot.
DO $$
DECLARE
    login text;
    most int;
BEGIN
    FOR login, most IN VALUES ('lotwright_app', 45), ('lotwright_migrator', 3), ('lotwright_sealer', 2),
                              ('lotwright_auditor', 4)
    LOOP
        IF (SELECT rolconnlimit FROM pg_roles WHERE rolname = login) = -1 THEN
            EXECUTE format('ALTER ROLE %I CONNECTION LIMIT %s', login, most);
        END IF;
    END LOOP;
END
$$;

ALTER ROLE lotwright_app SET statement_timeout = '15min';
ALTER ROLE lotwright_app SET idle_in_transaction_session_timeout = '10min';
ALTER ROLE lotwright_sealer SET statement_timeout = '5min';
ALTER ROLE lotwright_sealer SET idle_in_transaction_session_timeout = '30s';
ALTER ROLE lotwright_sealer SET idle_session_timeout = '1h';
ALTER ROLE lotwright_auditor SET statement_timeout = '2min';
ALTER ROLE lotwright_auditor SET idle_in_transaction_session_timeout = '30s';
ALTER ROLE lotwright_auditor SET idle_session_timeout = '1h';
ALTER ROLE lotwright_migrator SET idle_in_transaction_session_timeout = '30min';

-- Only a superuser may set this one; where a server manager runs this script, set it for the whole server.
DO $$
BEGIN
    IF (SELECT rolsuper FROM pg_roles WHERE rolname = current_user) THEN
        ALTER ROLE lotwright_app SET temp_file_limit = '8GB';
        ALTER ROLE lotwright_migrator SET temp_file_limit = '32GB';
        ALTER ROLE lotwright_sealer SET temp_file_limit = '256MB';
        ALTER ROLE lotwright_auditor SET temp_file_limit = '1GB';
    ELSE
        RAISE NOTICE 'temp_file_limit is not set by role: only a superuser may. Set it in the settings of the server.';
    END IF;
END
$$;
