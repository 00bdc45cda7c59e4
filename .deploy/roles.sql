-- The database and its two roles, for a server of your own. Run once, as a superuser of PostgreSQL 15 or newer:
--
--     psql -X -f .deploy/roles.sql postgres
--
-- Other names: -v database=… -v owner=… -v app=… (then DATABASE_URL and DATABASE_OWNER_URL name them too).
-- The owner makes and changes the tables (migrate, restore). The application's role reads and writes rows, owns nothing,
-- cannot empty a table and cannot make one: what is signed stays signed whatever the web server is made to say.
-- The right to call erase_enrolment, the one function that removes anything, is given by the migrations.
-- Neither role has a password here: give each one with \password, or map accounts of the system in pg_ident.conf.

\set ON_ERROR_STOP on
\if :{?database} \else \set database training_record \endif
\if :{?owner} \else \set owner record_owner \endif
\if :{?app} \else \set app record_app \endif

SELECT format('CREATE ROLE %I LOGIN', wanted) FROM unnest(ARRAY[:'owner', :'app']) AS wanted
    WHERE NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = wanted)
\gexec
SELECT format('CREATE DATABASE %I OWNER %I', :'database', :'owner')
    WHERE NOT EXISTS (SELECT 1 FROM pg_database WHERE datname = :'database')
\gexec
REVOKE ALL ON DATABASE :"database" FROM PUBLIC;
GRANT CONNECT ON DATABASE :"database" TO :"app";

\connect :"database"
REVOKE ALL ON SCHEMA public FROM PUBLIC;
GRANT USAGE ON SCHEMA public TO :"app";
ALTER DEFAULT PRIVILEGES FOR ROLE :"owner" IN SCHEMA public GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO :"app";
ALTER DEFAULT PRIVILEGES FOR ROLE :"owner" IN SCHEMA public GRANT USAGE, SELECT ON SEQUENCES TO :"app";
