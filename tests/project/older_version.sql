-- A school as an older version of the program left it: migrated to school 0006, lessons 0007 and grading 0008, with two
-- sealed lessons. Made from that version, not from this one: `manage.py migrate` into an empty database,
-- `cast = tests.factories.build_cast(date(2026, 6, 11))`, then `tests.factories.flown(cast, circuits=2, days_ago=day)` for
-- the days 3 and 1, then `pg_dump --no-owner --no-privileges --exclude-table-data=django_session`, without its comments.
SET statement_timeout = 0;
SET lock_timeout = 0;
SET idle_in_transaction_session_timeout = 0;
SET client_encoding = 'UTF8';
SET standard_conforming_strings = on;
SELECT pg_catalog.set_config('search_path', '', false);
SET check_function_bodies = false;
SET xmloption = content;
SET client_min_messages = warning;
SET row_security = off;
CREATE TYPE public.procrastinate_job_event_type AS ENUM (
    'deferred',
    'started',
    'deferred_for_retry',
    'failed',
    'succeeded',
    'cancelled',
    'abort_requested',
    'aborted',
    'scheduled',
    'retried'
);
CREATE TYPE public.procrastinate_job_status AS ENUM (
    'todo',
    'doing',
    'succeeded',
    'failed',
    'cancelled',
    'aborting',
    'aborted'
);
CREATE TYPE public.procrastinate_job_to_defer_v1 AS (
	queue_name character varying,
	task_name character varying,
	priority integer,
	lock text,
	queueing_lock text,
	args jsonb,
	scheduled_at timestamp with time zone
);
CREATE FUNCTION public.attempt_part_is_final() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        PERFORM 1 FROM grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id
            WHERE a.id = OLD.attempt_id AND l.signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        PERFORM 1 FROM grading_attempt a JOIN lessons_lesson l ON l.id = a.lesson_id
            WHERE a.id = NEW.attempt_id AND l.signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;
CREATE FUNCTION public.grading_release_withdrawn_once() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF TG_OP = 'DELETE' OR OLD.withdrawn_at IS NOT NULL
        OR (to_jsonb(OLD) - 'withdrawn_at' - 'withdrawn_by_id' - 'withdrawal_reason') IS DISTINCT FROM (to_jsonb(NEW) - 'withdrawn_at' - 'withdrawn_by_id' - 'withdrawal_reason') THEN
        RAISE EXCEPTION 'the decision is final: no % on %', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE FUNCTION public.grading_setaside_withdrawn_once() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF TG_OP = 'DELETE' OR OLD.withdrawn_at IS NOT NULL
        OR (to_jsonb(OLD) - 'withdrawn_at' - 'withdrawn_by_id') IS DISTINCT FROM (to_jsonb(NEW) - 'withdrawn_at' - 'withdrawn_by_id') THEN
        RAISE EXCEPTION 'the decision is final: no % on %', TG_OP, TG_TABLE_NAME
            USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE FUNCTION public.lesson_part_is_final() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = OLD.lesson_id AND signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        PERFORM 1 FROM lessons_lesson WHERE id = NEW.lesson_id AND signed_at IS NOT NULL;
        IF FOUND THEN
            RAISE EXCEPTION 'the lesson is signed: no % on %', TG_OP, TG_TABLE_NAME
                USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;
CREATE FUNCTION public.procrastinate_cancel_job_v1(job_id bigint, abort boolean, delete_job boolean) RETURNS bigint
    LANGUAGE plpgsql
    AS $$
DECLARE
    _job_id bigint;
BEGIN
    IF delete_job THEN
        DELETE FROM procrastinate_jobs
        WHERE id = job_id AND status = 'todo'
        RETURNING id INTO _job_id;
    END IF;
    IF _job_id IS NULL THEN
        IF abort THEN
            UPDATE procrastinate_jobs
            SET abort_requested = true,
                status = CASE status
                    WHEN 'todo' THEN 'cancelled'::procrastinate_job_status ELSE status
                END
            WHERE id = job_id AND status IN ('todo', 'doing')
            RETURNING id INTO _job_id;
        ELSE
            UPDATE procrastinate_jobs
            SET status = 'cancelled'::procrastinate_job_status
            WHERE id = job_id AND status = 'todo'
            RETURNING id INTO _job_id;
        END IF;
    END IF;
    RETURN _job_id;
END;
$$;
CREATE FUNCTION public.procrastinate_defer_jobs_v1(jobs public.procrastinate_job_to_defer_v1[]) RETURNS bigint[]
    LANGUAGE plpgsql
    AS $$
DECLARE
    job_ids bigint[];
BEGIN
    WITH inserted_jobs AS (
        INSERT INTO procrastinate_jobs (queue_name, task_name, priority, lock, queueing_lock, args, scheduled_at)
        SELECT (job).queue_name,
               (job).task_name,
               (job).priority,
               (job).lock,
               (job).queueing_lock,
               (job).args,
               (job).scheduled_at
        FROM unnest(jobs) AS job
        RETURNING id
    )
    SELECT array_agg(id) FROM inserted_jobs INTO job_ids;
    RETURN job_ids;
END;
$$;
CREATE FUNCTION public.procrastinate_defer_periodic_job_v2(_queue_name character varying, _lock character varying, _queueing_lock character varying, _task_name character varying, _priority integer, _periodic_id character varying, _defer_timestamp bigint, _args jsonb) RETURNS bigint
    LANGUAGE plpgsql
    AS $$
DECLARE
	_job_id bigint;
	_defer_id bigint;
BEGIN
    INSERT
        INTO procrastinate_periodic_defers (task_name, periodic_id, defer_timestamp)
        VALUES (_task_name, _periodic_id, _defer_timestamp)
        ON CONFLICT DO NOTHING
        RETURNING id into _defer_id;
    IF _defer_id IS NULL THEN
        RETURN NULL;
    END IF;
    UPDATE procrastinate_periodic_defers
        SET job_id = (
            SELECT COALESCE((
                SELECT unnest(procrastinate_defer_jobs_v1(
                    ARRAY[
                        ROW(
                            _queue_name,
                            _task_name,
                            _priority,
                            _lock,
                            _queueing_lock,
                            _args,
                            NULL::timestamptz
                        )
                    ]::procrastinate_job_to_defer_v1[]
                ))
            ), NULL)
        )
        WHERE id = _defer_id
        RETURNING job_id INTO _job_id;
    DELETE
        FROM procrastinate_periodic_defers
        USING (
            SELECT id
            FROM procrastinate_periodic_defers
            WHERE procrastinate_periodic_defers.task_name = _task_name
            AND procrastinate_periodic_defers.periodic_id = _periodic_id
            AND procrastinate_periodic_defers.defer_timestamp < _defer_timestamp
            ORDER BY id
            FOR UPDATE
        ) to_delete
        WHERE procrastinate_periodic_defers.id = to_delete.id;
    RETURN _job_id;
END;
$$;
SET default_tablespace = '';
SET default_table_access_method = heap;
CREATE TABLE public.procrastinate_jobs (
    id bigint NOT NULL,
    queue_name character varying(128) NOT NULL,
    task_name character varying(128) NOT NULL,
    lock text,
    args jsonb DEFAULT '{}'::jsonb NOT NULL,
    status public.procrastinate_job_status DEFAULT 'todo'::public.procrastinate_job_status NOT NULL,
    scheduled_at timestamp with time zone,
    attempts integer DEFAULT 0 NOT NULL,
    queueing_lock text,
    priority integer DEFAULT 0 NOT NULL,
    abort_requested boolean DEFAULT false NOT NULL,
    worker_id bigint,
    CONSTRAINT check_not_todo_abort_requested CHECK ((NOT ((status = 'todo'::public.procrastinate_job_status) AND (abort_requested = true))))
);
CREATE FUNCTION public.procrastinate_fetch_job_v2(target_queue_names character varying[], p_worker_id bigint) RETURNS public.procrastinate_jobs
    LANGUAGE plpgsql
    AS $$
DECLARE
	found_jobs procrastinate_jobs;
BEGIN
    WITH candidate AS (
        SELECT jobs.*
            FROM procrastinate_jobs AS jobs
            WHERE
                -- reject the job if its lock has earlier or higher priority jobs
                NOT EXISTS (
                    SELECT 1
                        FROM procrastinate_jobs AS other_jobs
                        WHERE
                            jobs.lock IS NOT NULL
                            AND other_jobs.lock = jobs.lock
                            AND (
                                -- job with same lock is already running
                                other_jobs.status = 'doing'
                                OR
                                -- job with same lock is waiting and has higher priority (or same priority but was queued first)
                                (
                                    other_jobs.status = 'todo'
                                    AND (
                                        other_jobs.priority > jobs.priority
                                        OR (
                                        other_jobs.priority = jobs.priority
                                        AND other_jobs.id < jobs.id
                                        )
                                    )
                                )
                            )
                )
                AND jobs.status = 'todo'
                AND (target_queue_names IS NULL OR jobs.queue_name = ANY( target_queue_names ))
                AND (jobs.scheduled_at IS NULL OR jobs.scheduled_at <= now())
            ORDER BY jobs.priority DESC, jobs.id ASC LIMIT 1
            FOR UPDATE OF jobs SKIP LOCKED
    )
    UPDATE procrastinate_jobs
        SET status = 'doing', worker_id = p_worker_id
        FROM candidate
        WHERE procrastinate_jobs.id = candidate.id
        RETURNING procrastinate_jobs.* INTO found_jobs;
 RETURN found_jobs;
END;
$$;
CREATE FUNCTION public.procrastinate_finish_job_v1(job_id bigint, end_status public.procrastinate_job_status, delete_job boolean) RETURNS void
    LANGUAGE plpgsql
    AS $$
DECLARE
    _job_id bigint;
BEGIN
    IF end_status NOT IN ('succeeded', 'failed', 'aborted') THEN
        RAISE 'End status should be either "succeeded", "failed" or "aborted" (job id: %)', job_id;
    END IF;
    IF delete_job THEN
        DELETE FROM procrastinate_jobs
        WHERE id = job_id AND status IN ('todo', 'doing')
        RETURNING id INTO _job_id;
    ELSE
        UPDATE procrastinate_jobs
        SET status = end_status,
            abort_requested = false,
            attempts = CASE status
                WHEN 'doing' THEN attempts + 1 ELSE attempts
            END
        WHERE id = job_id AND status IN ('todo', 'doing')
        RETURNING id INTO _job_id;
    END IF;
    IF _job_id IS NULL THEN
        RAISE 'Job was not found or not in "doing" or "todo" status (job id: %)', job_id;
    END IF;
END;
$$;
CREATE FUNCTION public.procrastinate_notify_queue_abort_job_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
DECLARE
    payload TEXT;
BEGIN
    SELECT json_build_object('type', 'abort_job_requested', 'job_id', NEW.id)::text INTO payload;
	PERFORM pg_notify('procrastinate_queue_v1#' || NEW.queue_name, payload);
	PERFORM pg_notify('procrastinate_any_queue_v1', payload);
	RETURN NEW;
END;
$$;
CREATE FUNCTION public.procrastinate_notify_queue_job_inserted_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
DECLARE
    payload TEXT;
BEGIN
    SELECT json_build_object('type', 'job_inserted', 'job_id', NEW.id)::text INTO payload;
	PERFORM pg_notify('procrastinate_queue_v1#' || NEW.queue_name, payload);
	PERFORM pg_notify('procrastinate_any_queue_v1', payload);
	RETURN NEW;
END;
$$;
CREATE FUNCTION public.procrastinate_prune_stalled_workers_v1(seconds_since_heartbeat double precision) RETURNS TABLE(worker_id bigint)
    LANGUAGE plpgsql
    AS $$
BEGIN
    RETURN QUERY
    DELETE FROM procrastinate_workers
    WHERE last_heartbeat < NOW() - (seconds_since_heartbeat || 'SECOND')::INTERVAL
    RETURNING procrastinate_workers.id;
END;
$$;
CREATE FUNCTION public.procrastinate_register_worker_v1() RETURNS TABLE(worker_id bigint)
    LANGUAGE plpgsql
    AS $$
BEGIN
    RETURN QUERY
    INSERT INTO procrastinate_workers DEFAULT VALUES
    RETURNING procrastinate_workers.id;
END;
$$;
CREATE FUNCTION public.procrastinate_retry_job_v1(job_id bigint, retry_at timestamp with time zone, new_priority integer, new_queue_name character varying, new_lock character varying) RETURNS void
    LANGUAGE plpgsql
    AS $$
DECLARE
    _job_id bigint;
    _abort_requested boolean;
BEGIN
    SELECT abort_requested FROM procrastinate_jobs
    WHERE id = job_id AND status = 'doing'
    FOR UPDATE
    INTO _abort_requested;
    IF _abort_requested THEN
        UPDATE procrastinate_jobs
        SET status = 'failed'::procrastinate_job_status
        WHERE id = job_id AND status = 'doing'
        RETURNING id INTO _job_id;
    ELSE
        UPDATE procrastinate_jobs
        SET status = 'todo'::procrastinate_job_status,
            attempts = attempts + 1,
            scheduled_at = retry_at,
            priority = COALESCE(new_priority, priority),
            queue_name = COALESCE(new_queue_name, queue_name),
            lock = COALESCE(new_lock, lock)
        WHERE id = job_id AND status = 'doing'
        RETURNING id INTO _job_id;
    END IF;
    IF _job_id IS NULL THEN
        RAISE 'Job was not found or not in "doing" status (job id: %)', job_id;
    END IF;
END;
$$;
CREATE FUNCTION public.procrastinate_retry_job_v2(job_id bigint, retry_at timestamp with time zone, new_priority integer, new_queue_name character varying, new_lock character varying) RETURNS void
    LANGUAGE plpgsql
    AS $$
DECLARE
    _job_id bigint;
    _abort_requested boolean;
    _current_status procrastinate_job_status;
BEGIN
    SELECT status, abort_requested FROM procrastinate_jobs
    WHERE id = job_id AND status IN ('doing', 'failed')
    FOR UPDATE
    INTO _current_status, _abort_requested;
    IF _current_status = 'doing' AND _abort_requested THEN
        UPDATE procrastinate_jobs
        SET status = 'failed'::procrastinate_job_status
        WHERE id = job_id AND status = 'doing'
        RETURNING id INTO _job_id;
    ELSE
        UPDATE procrastinate_jobs
        SET status = 'todo'::procrastinate_job_status,
            attempts = attempts + 1,
            scheduled_at = retry_at,
            priority = COALESCE(new_priority, priority),
            queue_name = COALESCE(new_queue_name, queue_name),
            lock = COALESCE(new_lock, lock)
        WHERE id = job_id AND status IN ('doing', 'failed')
        RETURNING id INTO _job_id;
    END IF;
    IF _job_id IS NULL THEN
        RAISE 'Job was not found or has an invalid status to retry (job id: %)', job_id;
    END IF;
END;
$$;
CREATE FUNCTION public.procrastinate_trigger_abort_requested_events_procedure_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    INSERT INTO procrastinate_events(job_id, type)
        VALUES (NEW.id, 'abort_requested'::procrastinate_job_event_type);
    RETURN NEW;
END;
$$;
CREATE FUNCTION public.procrastinate_trigger_function_scheduled_events_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    INSERT INTO procrastinate_events(job_id, type, at)
        VALUES (NEW.id, 'scheduled'::procrastinate_job_event_type, NEW.scheduled_at);
	RETURN NEW;
END;
$$;
CREATE FUNCTION public.procrastinate_trigger_function_status_events_insert_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    INSERT INTO procrastinate_events(job_id, type)
        VALUES (NEW.id, 'deferred'::procrastinate_job_event_type);
	RETURN NEW;
END;
$$;
CREATE FUNCTION public.procrastinate_trigger_function_status_events_update_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    WITH t AS (
        SELECT CASE
            WHEN OLD.status = 'todo'::procrastinate_job_status
                AND NEW.status = 'doing'::procrastinate_job_status
                THEN 'started'::procrastinate_job_event_type
            WHEN OLD.status = 'doing'::procrastinate_job_status
                AND NEW.status = 'todo'::procrastinate_job_status
                THEN 'deferred_for_retry'::procrastinate_job_event_type
            WHEN OLD.status = 'doing'::procrastinate_job_status
                AND NEW.status = 'failed'::procrastinate_job_status
                THEN 'failed'::procrastinate_job_event_type
            WHEN OLD.status = 'doing'::procrastinate_job_status
                AND NEW.status = 'succeeded'::procrastinate_job_status
                THEN 'succeeded'::procrastinate_job_event_type
            WHEN OLD.status = 'todo'::procrastinate_job_status
                AND (
                    NEW.status = 'cancelled'::procrastinate_job_status
                    OR NEW.status = 'failed'::procrastinate_job_status
                    OR NEW.status = 'succeeded'::procrastinate_job_status
                )
                THEN 'cancelled'::procrastinate_job_event_type
            WHEN OLD.status = 'doing'::procrastinate_job_status
                AND NEW.status = 'aborted'::procrastinate_job_status
                THEN 'aborted'::procrastinate_job_event_type
            WHEN OLD.status = 'failed'::procrastinate_job_status
                AND NEW.status = 'todo'::procrastinate_job_status
                THEN 'retried'::procrastinate_job_event_type
            ELSE NULL
        END as event_type
    )
    INSERT INTO procrastinate_events(job_id, type)
        SELECT NEW.id, t.event_type
        FROM t
        WHERE t.event_type IS NOT NULL;
	RETURN NEW;
END;
$$;
CREATE FUNCTION public.procrastinate_unlink_periodic_defers_v1() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    UPDATE procrastinate_periodic_defers
    SET job_id = NULL
    WHERE job_id = OLD.id;
    RETURN OLD;
END;
$$;
CREATE FUNCTION public.procrastinate_unregister_worker_v1(worker_id bigint) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
    DELETE FROM procrastinate_workers
    WHERE id = worker_id;
END;
$$;
CREATE FUNCTION public.procrastinate_update_heartbeat_v1(worker_id bigint) RETURNS void
    LANGUAGE plpgsql
    AS $$
BEGIN
    UPDATE procrastinate_workers
    SET last_heartbeat = NOW()
    WHERE id = worker_id;
END;
$$;
CREATE FUNCTION public.published_part_is_final() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
DECLARE
    published boolean;
BEGIN
    IF TG_OP <> 'INSERT' THEN
        EXECUTE TG_ARGV[1] INTO published USING (to_jsonb(OLD) ->> TG_ARGV[0])::bigint;
        IF published THEN
            RAISE EXCEPTION 'it is published: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
        END IF;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        EXECUTE TG_ARGV[1] INTO published USING (to_jsonb(NEW) ->> TG_ARGV[0])::bigint;
        IF published THEN
            RAISE EXCEPTION 'it is published: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
        END IF;
        RETURN NEW;
    END IF;
    RETURN OLD;
END $$;
CREATE FUNCTION public.record_is_final() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
BEGIN
    RAISE EXCEPTION 'the record is final: no % on %', TG_OP, TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
END $$;
CREATE FUNCTION public.standard_keeps_the_law() RETURNS trigger
    LANGUAGE plpgsql
    AS $$
DECLARE
    base jsonb;
    asked jsonb;
    given jsonb;
    name text;
BEGIN
    SELECT content INTO base FROM grading_standard WHERE rule_set = NEW.rule_set ORDER BY id LIMIT 1;
    IF base IS NULL THEN
        RETURN NEW;
    END IF;
    FOR asked IN SELECT * FROM jsonb_array_elements(base -> 'requirements') LOOP
        CONTINUE WHEN asked ->> 'kind' <> 'legal';
        SELECT row INTO given FROM jsonb_array_elements(NEW.content -> 'requirements') AS row
            WHERE row ->> 'key' = asked ->> 'key';
        IF given IS NULL OR given ->> 'kind' IS DISTINCT FROM 'legal'
            OR given ->> 'check' IS DISTINCT FROM asked ->> 'check' THEN
            RAISE EXCEPTION 'required by law: % must stay', asked ->> 'key' USING ERRCODE = 'check_violation';
        END IF;
        FOR name IN SELECT jsonb_object_keys(asked -> 'values') LOOP
            -- More years of age and fewer days since training are stricter; everything else stays as it is.
            IF (name = 'years' AND (given -> 'values' ->> name)::int >= (asked -> 'values' ->> name)::int)
                OR (name = 'days' AND (given -> 'values' ->> name)::int BETWEEN 1 AND (asked -> 'values' ->> name)::int)
                OR given -> 'values' -> name = asked -> 'values' -> name THEN
                CONTINUE;
            END IF;
            RAISE EXCEPTION 'required by law: % of % must not be loosened', name, asked ->> 'key'
                USING ERRCODE = 'check_violation';
        END LOOP;
    END LOOP;
    RETURN NEW;
END $$;
CREATE TABLE public.auth_group (
    id integer NOT NULL,
    name character varying(150) NOT NULL
);
ALTER TABLE public.auth_group ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.auth_group_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.auth_group_permissions (
    id bigint NOT NULL,
    group_id integer NOT NULL,
    permission_id integer NOT NULL
);
ALTER TABLE public.auth_group_permissions ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.auth_group_permissions_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.auth_permission (
    id integer NOT NULL,
    name character varying(255) NOT NULL,
    content_type_id integer NOT NULL,
    codename character varying(100) NOT NULL
);
ALTER TABLE public.auth_permission ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.auth_permission_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.django_content_type (
    id integer NOT NULL,
    app_label character varying(100) NOT NULL,
    model character varying(100) NOT NULL
);
ALTER TABLE public.django_content_type ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.django_content_type_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.django_migrations (
    id bigint NOT NULL,
    app character varying(255) NOT NULL,
    name character varying(255) NOT NULL,
    applied timestamp with time zone NOT NULL
);
ALTER TABLE public.django_migrations ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.django_migrations_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.django_session (
    session_key character varying(40) NOT NULL,
    session_data text NOT NULL,
    expire_date timestamp with time zone NOT NULL
);
CREATE TABLE public.grading_attempt (
    id bigint NOT NULL,
    part character varying(10) NOT NULL,
    ordinal smallint NOT NULL,
    level character varying(12),
    help character varying(12) NOT NULL,
    circuit_id bigint,
    lesson_id bigint NOT NULL,
    manoeuvre_id bigint NOT NULL,
    step character varying(12) NOT NULL,
    CONSTRAINT attempt_part_of_circuit CHECK ((((circuit_id IS NULL) AND ((part)::text = ''::text)) OR ((circuit_id IS NOT NULL) AND (NOT ((part)::text = ''::text))))),
    CONSTRAINT grading_attempt_ordinal_check CHECK ((ordinal >= 0))
);
ALTER TABLE public.grading_attempt ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_attempt_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_criterionseen (
    id bigint NOT NULL,
    done boolean NOT NULL,
    attempt_id bigint NOT NULL,
    criterion_id bigint NOT NULL
);
ALTER TABLE public.grading_criterionseen ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_criterionseen_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_faultseen (
    id bigint NOT NULL,
    attempt_id bigint NOT NULL,
    fault_id bigint NOT NULL
);
ALTER TABLE public.grading_faultseen ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_faultseen_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_grade (
    id bigint NOT NULL,
    proposed character varying(12) NOT NULL,
    explanation text NOT NULL,
    given character varying(12) NOT NULL,
    help character varying(12) NOT NULL,
    lesson_id bigint NOT NULL,
    manoeuvre_id bigint NOT NULL,
    given_step character varying(12) NOT NULL,
    proposed_step character varying(12) NOT NULL
);
ALTER TABLE public.grading_grade ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_grade_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_measure (
    id bigint NOT NULL,
    value numeric(7,1) NOT NULL,
    attempt_id bigint NOT NULL,
    target_id bigint NOT NULL,
    unit character varying(4) NOT NULL
);
ALTER TABLE public.grading_measure ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_measure_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_sheet (
    id bigint NOT NULL,
    uid uuid NOT NULL,
    number integer NOT NULL,
    "on" date NOT NULL,
    paper character varying(6) NOT NULL,
    content jsonb NOT NULL,
    pdf bytea NOT NULL,
    printed_at timestamp with time zone NOT NULL,
    enrolment_id bigint,
    printed_by_id bigint NOT NULL,
    digest character varying(64) NOT NULL,
    kind character varying(12) NOT NULL,
    instructor_id bigint,
    CONSTRAINT grading_progresssheet_number_check CHECK ((number >= 0)),
    CONSTRAINT sheet_has_its_subject CHECK ((((enrolment_id IS NULL) AND (instructor_id IS NOT NULL) AND ((kind)::text = 'endorsements'::text)) OR ((NOT ((kind)::text = 'endorsements'::text)) AND (enrolment_id IS NOT NULL) AND (instructor_id IS NULL))))
);
ALTER TABLE public.grading_sheet ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_progresssheet_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_release (
    id bigint NOT NULL,
    uid uuid NOT NULL,
    runways character varying(60) NOT NULL,
    max_wind_kt smallint NOT NULL,
    max_crosswind_kt smallint NOT NULL,
    min_visibility_sm numeric(4,1) NOT NULL,
    min_ceiling_ft integer NOT NULL,
    valid_from date NOT NULL,
    valid_until date NOT NULL,
    training_on date NOT NULL,
    reason text NOT NULL,
    verdict jsonb NOT NULL,
    decided_at timestamp with time zone NOT NULL,
    withdrawn_at timestamp with time zone,
    withdrawal_reason text NOT NULL,
    aerodrome_id bigint NOT NULL,
    aircraft_type_id bigint NOT NULL,
    decided_by_id bigint NOT NULL,
    endorsed_by_id bigint NOT NULL,
    enrolment_id bigint NOT NULL,
    withdrawn_by_id bigint,
    endorsement text NOT NULL,
    kind character varying(6) NOT NULL,
    CONSTRAINT grading_release_max_crosswind_kt_check CHECK ((max_crosswind_kt >= 0)),
    CONSTRAINT grading_release_max_wind_kt_check CHECK ((max_wind_kt >= 0)),
    CONSTRAINT grading_release_min_ceiling_ft_check CHECK ((min_ceiling_ft >= 0)),
    CONSTRAINT release_dates CHECK ((valid_until >= valid_from)),
    CONSTRAINT release_visibility CHECK ((min_visibility_sm >= (3)::numeric)),
    CONSTRAINT release_visibility_night CHECK (((NOT ((kind)::text = 'night'::text)) OR (min_visibility_sm >= (5)::numeric))),
    CONSTRAINT release_withdrawn_at_by_reason CHECK ((((withdrawal_reason = ''::text) AND (withdrawn_at IS NULL) AND (withdrawn_by_id IS NULL)) OR ((withdrawn_at IS NOT NULL) AND (withdrawn_by_id IS NOT NULL) AND (NOT (withdrawal_reason = ''::text)))))
);
ALTER TABLE public.grading_release ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_release_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_seal (
    number bigint NOT NULL,
    kind character varying(15) NOT NULL,
    subject uuid NOT NULL,
    canonical text NOT NULL,
    previous character varying(64) NOT NULL,
    digest character varying(64) NOT NULL,
    sealed_at timestamp with time zone NOT NULL,
    CONSTRAINT grading_seal_number_check CHECK ((number >= 0))
);
CREATE TABLE public.grading_setaside (
    id bigint NOT NULL,
    requirement character varying(40) NOT NULL,
    reason text NOT NULL,
    decided_at timestamp with time zone NOT NULL,
    withdrawn_at timestamp with time zone,
    decided_by_id bigint NOT NULL,
    enrolment_id bigint NOT NULL,
    withdrawn_by_id bigint,
    CONSTRAINT setaside_reason CHECK ((NOT (reason = ''::text))),
    CONSTRAINT setaside_withdrawn_at_by CHECK ((((withdrawn_at IS NULL) AND (withdrawn_by_id IS NULL)) OR ((withdrawn_at IS NOT NULL) AND (withdrawn_by_id IS NOT NULL))))
);
ALTER TABLE public.grading_setaside ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_setaside_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_signature (
    id bigint NOT NULL,
    uid uuid NOT NULL,
    capacity character varying(10) NOT NULL,
    act character varying(8) NOT NULL,
    meaning text NOT NULL,
    remark text NOT NULL,
    name character varying(210) NOT NULL,
    reference character varying(20) NOT NULL,
    certificate_number character varying(40) NOT NULL,
    certificate_valid character varying(60) NOT NULL,
    signed_at timestamp with time zone NOT NULL,
    lesson_id bigint,
    person_id bigint NOT NULL,
    release_id bigint,
    drawn text NOT NULL,
    endorsement_id bigint,
    enrolment_id bigint,
    CONSTRAINT signature_one_subject CHECK ((((endorsement_id IS NULL) AND (enrolment_id IS NULL) AND (lesson_id IS NOT NULL) AND (release_id IS NULL)) OR ((endorsement_id IS NULL) AND (enrolment_id IS NULL) AND (lesson_id IS NULL) AND (release_id IS NOT NULL)) OR ((endorsement_id IS NOT NULL) AND (enrolment_id IS NULL) AND (lesson_id IS NULL) AND (release_id IS NULL)) OR ((endorsement_id IS NULL) AND (enrolment_id IS NOT NULL) AND (lesson_id IS NULL) AND (release_id IS NULL)))),
    CONSTRAINT signature_refusal_has_remark CHECK (((NOT ((act)::text = 'refused'::text)) OR (NOT (remark = ''::text))))
);
ALTER TABLE public.grading_signature ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_signature_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_standard (
    id bigint NOT NULL,
    key character varying(40) NOT NULL,
    rule_set character varying(2) NOT NULL,
    valid_from date NOT NULL,
    content jsonb NOT NULL
);
ALTER TABLE public.grading_standard ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_standard_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_storedverdict (
    id bigint NOT NULL,
    "on" date NOT NULL,
    engine character varying(8) NOT NULL,
    stale boolean NOT NULL,
    content jsonb NOT NULL,
    "row" jsonb NOT NULL,
    enrolment_id bigint NOT NULL
);
ALTER TABLE public.grading_storedverdict ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_storedverdict_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.grading_tap (
    id bigint NOT NULL,
    uid uuid NOT NULL,
    at timestamp with time zone NOT NULL,
    field character varying(120) NOT NULL,
    before text NOT NULL,
    after text NOT NULL,
    lesson_id bigint NOT NULL,
    person_id bigint NOT NULL,
    undoes_id bigint
);
ALTER TABLE public.grading_tap ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.grading_tap_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_circuit (
    id bigint NOT NULL,
    number smallint NOT NULL,
    ending character varying(12) NOT NULL,
    closed boolean NOT NULL,
    lesson_id bigint NOT NULL,
    CONSTRAINT lessons_circuit_number_check CHECK ((number >= 0))
);
ALTER TABLE public.lessons_circuit ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_circuit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_criterion (
    id bigint NOT NULL,
    code character varying(50) NOT NULL,
    "order" smallint NOT NULL,
    text character varying(200) NOT NULL,
    kind character varying(8) NOT NULL,
    gate character varying(40) NOT NULL,
    quantity character varying(10) NOT NULL,
    from_unit smallint,
    manoeuvre_id bigint NOT NULL,
    CONSTRAINT criterion_measured_at_gate CHECK (((((gate)::text = ''::text) AND ((kind)::text = 'observed'::text) AND ((quantity)::text = ''::text)) OR (((kind)::text = 'measured'::text) AND (NOT ((gate)::text = ''::text)) AND (NOT ((quantity)::text = ''::text))))),
    CONSTRAINT lessons_criterion_from_unit_check CHECK ((from_unit >= 0)),
    CONSTRAINT lessons_criterion_order_check CHECK (("order" >= 0))
);
ALTER TABLE public.lessons_criterion ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_criterion_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_endorsement (
    id bigint NOT NULL,
    kind character varying(20) NOT NULL,
    paragraph character varying(30) NOT NULL,
    text text NOT NULL,
    given_on date NOT NULL,
    certificate_number character varying(40) NOT NULL,
    recorded_at timestamp with time zone NOT NULL,
    withdrawn_at timestamp with time zone,
    aircraft_type_id bigint NOT NULL,
    given_by_id bigint NOT NULL,
    recorded_by_id bigint NOT NULL,
    withdrawn_by_id bigint,
    enrolment_id bigint NOT NULL,
    uid uuid NOT NULL,
    CONSTRAINT endorsement_withdrawn_at_by CHECK ((((withdrawn_at IS NULL) AND (withdrawn_by_id IS NULL)) OR ((withdrawn_at IS NOT NULL) AND (withdrawn_by_id IS NOT NULL))))
);
ALTER TABLE public.lessons_endorsement ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_endorsement_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_enrolment (
    id bigint NOT NULL,
    uid uuid NOT NULL,
    enrolled_on date NOT NULL,
    ended_on date,
    "end" character varying(12) NOT NULL,
    aircraft_type_id bigint NOT NULL,
    instructor_id bigint NOT NULL,
    student_id bigint NOT NULL,
    syllabus_id bigint NOT NULL,
    CONSTRAINT enrolment_end_has_kind CHECK ((((("end")::text = ''::text) AND (ended_on IS NULL)) OR ((ended_on >= enrolled_on) AND (NOT (("end")::text = ''::text)))))
);
ALTER TABLE public.lessons_enrolment ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_enrolment_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_fault (
    id bigint NOT NULL,
    code character varying(50) NOT NULL,
    "order" smallint NOT NULL,
    name character varying(40) NOT NULL,
    critical boolean NOT NULL,
    cause text NOT NULL,
    cure text NOT NULL,
    source character varying(200) NOT NULL,
    syllabus_id bigint NOT NULL,
    signs character varying(60)[] NOT NULL,
    CONSTRAINT lessons_fault_order_check CHECK (("order" >= 0))
);
ALTER TABLE public.lessons_fault ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_fault_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_fault_manoeuvres (
    id bigint NOT NULL,
    fault_id bigint NOT NULL,
    manoeuvre_id bigint NOT NULL
);
ALTER TABLE public.lessons_fault_manoeuvres ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_fault_manoeuvres_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_gate (
    id bigint NOT NULL,
    code character varying(40) NOT NULL,
    name character varying(40) NOT NULL,
    phase character varying(10) NOT NULL,
    "order" smallint NOT NULL,
    configuration character varying(100) NOT NULL,
    "where" character varying(140) NOT NULL,
    along_ft integer NOT NULL,
    gate_set_id bigint NOT NULL,
    leg character varying(9) NOT NULL,
    CONSTRAINT lessons_gate_order_check CHECK (("order" >= 0))
);
ALTER TABLE public.lessons_gate ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_gate_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_gatedraft (
    id bigint NOT NULL,
    content jsonb NOT NULL,
    edited_at timestamp with time zone NOT NULL,
    aircraft_type_id bigint NOT NULL,
    edited_by_id bigint NOT NULL
);
ALTER TABLE public.lessons_gatedraft ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_gatedraft_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_gateset (
    id bigint NOT NULL,
    issue smallint NOT NULL,
    valid_from date NOT NULL,
    aircraft_type_id bigint NOT NULL,
    published boolean NOT NULL,
    shape character varying(6) NOT NULL,
    CONSTRAINT lessons_gateset_issue_check CHECK ((issue >= 0))
);
ALTER TABLE public.lessons_gateset ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_gateset_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_gatetarget (
    id bigint NOT NULL,
    quantity character varying(10) NOT NULL,
    value numeric(7,1) NOT NULL,
    over numeric(6,1) NOT NULL,
    under numeric(6,1) NOT NULL,
    unit character varying(4) NOT NULL,
    wind_rule character varying(10) NOT NULL,
    gate_id bigint NOT NULL,
    CONSTRAINT gatetarget_has_tolerance CHECK (((over >= (0)::numeric) AND (under >= (0)::numeric) AND ((over > (0)::numeric) OR (under > (0)::numeric))))
);
ALTER TABLE public.lessons_gatetarget ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_gatetarget_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_gradescale (
    id bigint NOT NULL,
    code character varying(40) NOT NULL,
    issue smallint NOT NULL,
    title character varying(60) NOT NULL,
    rule character varying(10) NOT NULL,
    solo character varying(12) NOT NULL,
    steps jsonb NOT NULL,
    CONSTRAINT lessons_gradescale_issue_check CHECK ((issue >= 0))
);
ALTER TABLE public.lessons_gradescale ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_gradescale_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_knowledgetest (
    id bigint NOT NULL,
    taken_on date NOT NULL,
    topics character varying(20)[] NOT NULL,
    questions smallint NOT NULL,
    wrong smallint NOT NULL,
    reviewed_on date,
    recorded_at timestamp with time zone NOT NULL,
    aircraft_type_id bigint NOT NULL,
    enrolment_id bigint NOT NULL,
    given_by_id bigint NOT NULL,
    recorded_by_id bigint NOT NULL,
    title character varying(80) NOT NULL,
    unit_id bigint,
    uid uuid NOT NULL,
    CONSTRAINT knowledgetest_questions CHECK ((questions > 0)),
    CONSTRAINT knowledgetest_reviewed_after CHECK (((reviewed_on IS NULL) OR (reviewed_on >= taken_on))),
    CONSTRAINT knowledgetest_wrong CHECK ((wrong <= questions)),
    CONSTRAINT lessons_knowledgetest_questions_check CHECK ((questions >= 0)),
    CONSTRAINT lessons_knowledgetest_wrong_check CHECK ((wrong >= 0))
);
ALTER TABLE public.lessons_knowledgetest ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_knowledgetest_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_lesson (
    id bigint NOT NULL,
    uid uuid NOT NULL,
    number smallint NOT NULL,
    version smallint NOT NULL,
    correction_reason character varying(300) NOT NULL,
    "on" date NOT NULL,
    off_blocks timestamp with time zone,
    on_blocks timestamp with time zone,
    dual_minutes smallint NOT NULL,
    solo_minutes smallint NOT NULL,
    night_minutes smallint NOT NULL,
    instrument_minutes smallint NOT NULL,
    ground_minutes smallint NOT NULL,
    takeoffs smallint NOT NULL,
    landings smallint NOT NULL,
    wind_direction smallint,
    wind_speed_kt smallint,
    wind_gust_kt smallint,
    remarks text NOT NULL,
    next_time text NOT NULL,
    begun_at timestamp with time zone NOT NULL,
    signed_at timestamp with time zone,
    aircraft_id bigint,
    begun_by_id bigint NOT NULL,
    enrolment_id bigint NOT NULL,
    instructor_id bigint NOT NULL,
    runway_id bigint,
    signed_by_id bigint,
    supersedes_id bigint,
    unit_id bigint NOT NULL,
    weather_report character varying(300) NOT NULL,
    wind_reference character varying(8) NOT NULL,
    outside_release text NOT NULL,
    CONSTRAINT lesson_correction_has_reason CHECK (((((correction_reason)::text = ''::text) AND (supersedes_id IS NULL) AND (version = 1)) OR ((supersedes_id IS NOT NULL) AND (version > 1) AND (NOT ((correction_reason)::text = ''::text))))),
    CONSTRAINT lesson_gust_over_wind CHECK (((wind_gust_kt IS NULL) OR (wind_gust_kt >= wind_speed_kt))),
    CONSTRAINT lesson_on_after_off_blocks CHECK (((on_blocks IS NULL) OR (off_blocks IS NULL) OR (on_blocks > off_blocks))),
    CONSTRAINT lesson_signed_at_by CHECK ((((signed_at IS NULL) AND (signed_by_id IS NULL)) OR ((signed_at IS NOT NULL) AND (signed_by_id IS NOT NULL)))),
    CONSTRAINT lesson_signed_by_its_instructor CHECK (((signed_by_id IS NULL) OR (signed_by_id = instructor_id))),
    CONSTRAINT lessons_lesson_dual_minutes_check CHECK ((dual_minutes >= 0)),
    CONSTRAINT lessons_lesson_ground_minutes_check CHECK ((ground_minutes >= 0)),
    CONSTRAINT lessons_lesson_instrument_minutes_check CHECK ((instrument_minutes >= 0)),
    CONSTRAINT lessons_lesson_landings_check CHECK ((landings >= 0)),
    CONSTRAINT lessons_lesson_night_minutes_check CHECK ((night_minutes >= 0)),
    CONSTRAINT lessons_lesson_number_check CHECK ((number >= 0)),
    CONSTRAINT lessons_lesson_solo_minutes_check CHECK ((solo_minutes >= 0)),
    CONSTRAINT lessons_lesson_takeoffs_check CHECK ((takeoffs >= 0)),
    CONSTRAINT lessons_lesson_version_check CHECK ((version >= 0)),
    CONSTRAINT lessons_lesson_wind_direction_check CHECK ((wind_direction >= 0)),
    CONSTRAINT lessons_lesson_wind_gust_kt_check CHECK ((wind_gust_kt >= 0)),
    CONSTRAINT lessons_lesson_wind_speed_kt_check CHECK ((wind_speed_kt >= 0))
);
ALTER TABLE public.lessons_lesson ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_lesson_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_manoeuvre (
    id bigint NOT NULL,
    code character varying(40) NOT NULL,
    "order" smallint NOT NULL,
    title character varying(60) NOT NULL,
    phase character varying(12) NOT NULL,
    items character varying(30)[] NOT NULL,
    reference character varying(120) NOT NULL,
    syllabus_id bigint NOT NULL,
    tailwheel_only boolean NOT NULL,
    CONSTRAINT lessons_manoeuvre_order_check CHECK (("order" >= 0))
);
ALTER TABLE public.lessons_manoeuvre ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_manoeuvre_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_stage (
    id bigint NOT NULL,
    number smallint NOT NULL,
    title character varying(60) NOT NULL,
    syllabus_id bigint NOT NULL,
    CONSTRAINT lessons_stage_number_check CHECK ((number >= 0))
);
ALTER TABLE public.lessons_stage ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_stage_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_syllabus (
    id bigint NOT NULL,
    code character varying(40) NOT NULL,
    issue smallint NOT NULL,
    title character varying(100) NOT NULL,
    rule character varying(200) NOT NULL,
    published_on date,
    scale_id bigint NOT NULL,
    CONSTRAINT lessons_syllabus_issue_check CHECK ((issue >= 0))
);
ALTER TABLE public.lessons_syllabus ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_syllabus_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_syllabusdraft (
    id bigint NOT NULL,
    code character varying(40) NOT NULL,
    issue smallint NOT NULL,
    content jsonb NOT NULL,
    edited_at timestamp with time zone NOT NULL,
    based_on_id bigint,
    edited_by_id bigint NOT NULL,
    CONSTRAINT lessons_syllabusdraft_issue_check CHECK ((issue >= 0))
);
ALTER TABLE public.lessons_syllabusdraft ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_syllabusdraft_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_syllabusmove (
    id bigint NOT NULL,
    moved_at timestamp with time zone NOT NULL,
    after_id bigint NOT NULL,
    before_id bigint NOT NULL,
    enrolment_id bigint NOT NULL,
    moved_by_id bigint NOT NULL
);
ALTER TABLE public.lessons_syllabusmove ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_syllabusmove_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_trainingitem (
    id bigint NOT NULL,
    code character varying(30) NOT NULL,
    "order" smallint NOT NULL,
    text character varying(200) NOT NULL,
    syllabus_id bigint NOT NULL,
    CONSTRAINT lessons_trainingitem_order_check CHECK (("order" >= 0))
);
ALTER TABLE public.lessons_trainingitem ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_trainingitem_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_unit (
    id bigint NOT NULL,
    number smallint NOT NULL,
    title character varying(80) NOT NULL,
    kind character varying(12) NOT NULL,
    aim text NOT NULL,
    brief text NOT NULL,
    exercises character varying(40) NOT NULL,
    flies_circuits boolean NOT NULL,
    ending character varying(12) NOT NULL,
    stage_id bigint NOT NULL,
    CONSTRAINT lessons_unit_number_check CHECK ((number >= 0))
);
ALTER TABLE public.lessons_unit ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_unit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_unitmanoeuvre (
    id bigint NOT NULL,
    "order" smallint NOT NULL,
    expected character varying(12) NOT NULL,
    compulsory boolean NOT NULL,
    manoeuvre_id bigint NOT NULL,
    unit_id bigint NOT NULL,
    CONSTRAINT lessons_unitmanoeuvre_order_check CHECK (("order" >= 0)),
    CONSTRAINT unitmanoeuvre_expects_a_level CHECK ((NOT ((expected)::text = 'not_observed'::text)))
);
ALTER TABLE public.lessons_unitmanoeuvre ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_unitmanoeuvre_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.lessons_unitmapping (
    id bigint NOT NULL,
    move_id bigint NOT NULL,
    new_id bigint,
    old_id bigint NOT NULL
);
ALTER TABLE public.lessons_unitmapping ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.lessons_unitmapping_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.procrastinate_events (
    id bigint NOT NULL,
    job_id bigint NOT NULL,
    type public.procrastinate_job_event_type,
    at timestamp with time zone DEFAULT now()
);
CREATE SEQUENCE public.procrastinate_events_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.procrastinate_events_id_seq OWNED BY public.procrastinate_events.id;
CREATE SEQUENCE public.procrastinate_jobs_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.procrastinate_jobs_id_seq OWNED BY public.procrastinate_jobs.id;
CREATE TABLE public.procrastinate_periodic_defers (
    id bigint NOT NULL,
    task_name character varying(128) NOT NULL,
    defer_timestamp bigint,
    job_id bigint,
    periodic_id character varying(128) DEFAULT ''::character varying NOT NULL
);
CREATE SEQUENCE public.procrastinate_periodic_defers_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.procrastinate_periodic_defers_id_seq OWNED BY public.procrastinate_periodic_defers.id;
CREATE TABLE public.procrastinate_workers (
    id bigint NOT NULL,
    last_heartbeat timestamp with time zone DEFAULT now() NOT NULL
);
ALTER TABLE public.procrastinate_workers ALTER COLUMN id ADD GENERATED ALWAYS AS IDENTITY (
    SEQUENCE NAME public.procrastinate_workers_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_aerodrome (
    id bigint NOT NULL,
    ident character varying(4) NOT NULL,
    name character varying(60) NOT NULL,
    elevation_ft smallint NOT NULL,
    circuit_height_ft smallint NOT NULL,
    variation_deg numeric(4,1) NOT NULL,
    CONSTRAINT school_aerodrome_circuit_height_ft_check CHECK ((circuit_height_ft >= 0))
);
ALTER TABLE public.school_aerodrome ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_aerodrome_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_aircraft (
    id bigint NOT NULL,
    registration character varying(12) NOT NULL,
    in_service boolean NOT NULL,
    type_id bigint NOT NULL
);
ALTER TABLE public.school_aircraft ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_aircraft_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_aircrafttype (
    id bigint NOT NULL,
    code character varying(20) NOT NULL,
    name character varying(60) NOT NULL,
    tailwheel boolean NOT NULL,
    retractable boolean NOT NULL,
    constant_speed_propeller boolean NOT NULL,
    stall_landing_kt smallint NOT NULL,
    stall_clean_kt smallint NOT NULL,
    demonstrated_crosswind_kt smallint NOT NULL,
    CONSTRAINT aircrafttype_stall_speeds CHECK (((stall_landing_kt > 0) AND (stall_clean_kt >= stall_landing_kt))),
    CONSTRAINT school_aircrafttype_demonstrated_crosswind_kt_check CHECK ((demonstrated_crosswind_kt >= 0)),
    CONSTRAINT school_aircrafttype_stall_clean_kt_check CHECK ((stall_clean_kt >= 0)),
    CONSTRAINT school_aircrafttype_stall_landing_kt_check CHECK ((stall_landing_kt >= 0))
);
ALTER TABLE public.school_aircrafttype ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_aircrafttype_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_journalentry (
    id bigint NOT NULL,
    at timestamp with time zone NOT NULL,
    person_id bigint,
    person_name character varying(210) NOT NULL,
    what character varying(60) NOT NULL,
    subject_kind character varying(60) NOT NULL,
    subject_id bigint NOT NULL,
    subject_label character varying(200) NOT NULL,
    before jsonb,
    after jsonb,
    about_id bigint
);
ALTER TABLE public.school_journalentry ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_journalentry_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_paper (
    id bigint NOT NULL,
    kind character varying(30) NOT NULL,
    number character varying(40) NOT NULL,
    medical_class character varying(4) NOT NULL,
    issued date NOT NULL,
    expires date,
    recent_experience_until date,
    recorded_at timestamp with time zone NOT NULL,
    voided_at timestamp with time zone,
    void_reason character varying(200) NOT NULL,
    person_id bigint NOT NULL,
    recorded_by_id bigint NOT NULL,
    voided_by_id bigint,
    CONSTRAINT paper_expires_after_issue CHECK (((expires IS NULL) OR (expires >= issued))),
    CONSTRAINT paper_medical_class CHECK (((((kind)::text = 'medical'::text) OR ((medical_class)::text = ''::text)) AND (1 = (
CASE
    WHEN ((kind)::text = 'medical'::text) THEN 1
    ELSE 0
END +
CASE
    WHEN ((medical_class)::text = ''::text) THEN 1
    ELSE 0
END)))),
    CONSTRAINT paper_voided_at_by_reason CHECK (((((void_reason)::text = ''::text) AND (voided_at IS NULL) AND (voided_by_id IS NULL)) OR ((voided_at IS NOT NULL) AND (voided_by_id IS NOT NULL) AND (NOT ((void_reason)::text = ''::text)))))
);
ALTER TABLE public.school_paper ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_paper_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_person (
    id bigint NOT NULL,
    password character varying(128) NOT NULL,
    last_login timestamp with time zone,
    username character varying(150) NOT NULL,
    email character varying(254) NOT NULL,
    given_name character varying(100) NOT NULL,
    family_name character varying(100) NOT NULL,
    reference character varying(20) NOT NULL,
    born date,
    roles character varying(20)[] NOT NULL,
    is_active boolean NOT NULL,
    CONSTRAINT person_roles_known CHECK ((roles <@ ARRAY['student'::character varying(20), 'instructor'::character varying(20), 'chief'::character varying(20), 'admin'::character varying(20)]))
);
ALTER TABLE public.school_person ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_person_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_runway (
    id bigint NOT NULL,
    designator character varying(3) NOT NULL,
    heading_magnetic smallint NOT NULL,
    length_ft integer NOT NULL,
    circuit character varying(5) NOT NULL,
    aerodrome_id bigint NOT NULL,
    CONSTRAINT runway_heading CHECK (((heading_magnetic >= 1) AND (heading_magnetic <= 360))),
    CONSTRAINT school_runway_heading_magnetic_check CHECK ((heading_magnetic >= 0)),
    CONSTRAINT school_runway_length_ft_check CHECK ((length_ft >= 0))
);
ALTER TABLE public.school_runway ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_runway_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
CREATE TABLE public.school_school (
    id bigint NOT NULL,
    name character varying(100) NOT NULL,
    rule_set character varying(2) NOT NULL,
    paper character varying(6) NOT NULL,
    retention_years smallint NOT NULL,
    aerodrome_id bigint NOT NULL,
    length_unit character varying(2) NOT NULL,
    speed_unit character varying(4) NOT NULL,
    chief_countersigns boolean NOT NULL,
    CONSTRAINT school_is_one CHECK ((id = 1)),
    CONSTRAINT school_retention CHECK ((retention_years >= 5)),
    CONSTRAINT school_school_retention_years_check CHECK ((retention_years >= 0))
);
ALTER TABLE public.school_school ALTER COLUMN id ADD GENERATED BY DEFAULT AS IDENTITY (
    SEQUENCE NAME public.school_school_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1
);
ALTER TABLE ONLY public.procrastinate_events ALTER COLUMN id SET DEFAULT nextval('public.procrastinate_events_id_seq'::regclass);
ALTER TABLE ONLY public.procrastinate_jobs ALTER COLUMN id SET DEFAULT nextval('public.procrastinate_jobs_id_seq'::regclass);
ALTER TABLE ONLY public.procrastinate_periodic_defers ALTER COLUMN id SET DEFAULT nextval('public.procrastinate_periodic_defers_id_seq'::regclass);
COPY public.auth_group (id, name) FROM stdin;
\.
COPY public.auth_group_permissions (id, group_id, permission_id) FROM stdin;
\.
COPY public.auth_permission (id, name, content_type_id, codename) FROM stdin;
1	Can add aerodrome	1	add_aerodrome
2	Can change aerodrome	1	change_aerodrome
3	Can delete aerodrome	1	delete_aerodrome
4	Can view aerodrome	1	view_aerodrome
5	Can add person	2	add_person
6	Can change person	2	change_person
7	Can delete person	2	delete_person
8	Can view person	2	view_person
9	Can add aircraft type	3	add_aircrafttype
10	Can change aircraft type	3	change_aircrafttype
11	Can delete aircraft type	3	delete_aircrafttype
12	Can view aircraft type	3	view_aircrafttype
13	Can add aircraft	4	add_aircraft
14	Can change aircraft	4	change_aircraft
15	Can delete aircraft	4	delete_aircraft
16	Can view aircraft	4	view_aircraft
17	Can add journal entry	5	add_journalentry
18	Can change journal entry	5	change_journalentry
19	Can delete journal entry	5	delete_journalentry
20	Can view journal entry	5	view_journalentry
21	Can add paper	6	add_paper
22	Can change paper	6	change_paper
23	Can delete paper	6	delete_paper
24	Can view paper	6	view_paper
25	Can add runway	7	add_runway
26	Can change runway	7	change_runway
27	Can delete runway	7	delete_runway
28	Can view runway	7	view_runway
29	Can add school	8	add_school
30	Can change school	8	change_school
31	Can delete school	8	delete_school
32	Can view school	8	view_school
33	Can add manoeuvre	9	add_manoeuvre
34	Can change manoeuvre	9	change_manoeuvre
35	Can delete manoeuvre	9	delete_manoeuvre
36	Can view manoeuvre	9	view_manoeuvre
37	Can add enrolment	10	add_enrolment
38	Can change enrolment	10	change_enrolment
39	Can delete enrolment	10	delete_enrolment
40	Can view enrolment	10	view_enrolment
41	Can add gate set	11	add_gateset
42	Can change gate set	11	change_gateset
43	Can delete gate set	11	delete_gateset
44	Can view gate set	11	view_gateset
45	Can add gate	12	add_gate
46	Can change gate	12	change_gate
47	Can delete gate	12	delete_gate
48	Can view gate	12	view_gate
49	Can add gate target	13	add_gatetarget
50	Can change gate target	13	change_gatetarget
51	Can delete gate target	13	delete_gatetarget
52	Can view gate target	13	view_gatetarget
53	Can add knowledge test	14	add_knowledgetest
54	Can change knowledge test	14	change_knowledgetest
55	Can delete knowledge test	14	delete_knowledgetest
56	Can view knowledge test	14	view_knowledgetest
57	Can add lesson	15	add_lesson
58	Can change lesson	15	change_lesson
59	Can delete lesson	15	delete_lesson
60	Can view lesson	15	view_lesson
61	Can add circuit	16	add_circuit
62	Can change circuit	16	change_circuit
63	Can delete circuit	16	delete_circuit
64	Can view circuit	16	view_circuit
65	Can add criterion	17	add_criterion
66	Can change criterion	17	change_criterion
67	Can delete criterion	17	delete_criterion
68	Can view criterion	17	view_criterion
69	Can add syllabus	18	add_syllabus
70	Can change syllabus	18	change_syllabus
71	Can delete syllabus	18	delete_syllabus
72	Can view syllabus	18	view_syllabus
73	Can add stage	19	add_stage
74	Can change stage	19	change_stage
75	Can delete stage	19	delete_stage
76	Can view stage	19	view_stage
77	Can add fault	20	add_fault
78	Can change fault	20	change_fault
79	Can delete fault	20	delete_fault
80	Can view fault	20	view_fault
81	Can add training item	21	add_trainingitem
82	Can change training item	21	change_trainingitem
83	Can delete training item	21	delete_trainingitem
84	Can view training item	21	view_trainingitem
85	Can add unit	22	add_unit
86	Can change unit	22	change_unit
87	Can delete unit	22	delete_unit
88	Can view unit	22	view_unit
89	Can add unit manoeuvre	23	add_unitmanoeuvre
90	Can change unit manoeuvre	23	change_unitmanoeuvre
91	Can delete unit manoeuvre	23	delete_unitmanoeuvre
92	Can view unit manoeuvre	23	view_unitmanoeuvre
93	Can add endorsement	24	add_endorsement
94	Can change endorsement	24	change_endorsement
95	Can delete endorsement	24	delete_endorsement
96	Can view endorsement	24	view_endorsement
97	Can add gate draft	25	add_gatedraft
98	Can change gate draft	25	change_gatedraft
99	Can delete gate draft	25	delete_gatedraft
100	Can view gate draft	25	view_gatedraft
101	Can add grade scale	26	add_gradescale
102	Can change grade scale	26	change_gradescale
103	Can delete grade scale	26	delete_gradescale
104	Can view grade scale	26	view_gradescale
105	Can add syllabus draft	27	add_syllabusdraft
106	Can change syllabus draft	27	change_syllabusdraft
107	Can delete syllabus draft	27	delete_syllabusdraft
108	Can view syllabus draft	27	view_syllabusdraft
109	Can add syllabus move	28	add_syllabusmove
110	Can change syllabus move	28	change_syllabusmove
111	Can delete syllabus move	28	delete_syllabusmove
112	Can view syllabus move	28	view_syllabusmove
113	Can add unit mapping	29	add_unitmapping
114	Can change unit mapping	29	change_unitmapping
115	Can delete unit mapping	29	delete_unitmapping
116	Can view unit mapping	29	view_unitmapping
117	Can add attempt	30	add_attempt
118	Can change attempt	30	change_attempt
119	Can delete attempt	30	delete_attempt
120	Can view attempt	30	view_attempt
121	Can add fault seen	31	add_faultseen
122	Can change fault seen	31	change_faultseen
123	Can delete fault seen	31	delete_faultseen
124	Can view fault seen	31	view_faultseen
125	Can add grade	32	add_grade
126	Can change grade	32	change_grade
127	Can delete grade	32	delete_grade
128	Can view grade	32	view_grade
129	Can add measure	33	add_measure
130	Can change measure	33	change_measure
131	Can delete measure	33	delete_measure
132	Can view measure	33	view_measure
133	Can add release	34	add_release
134	Can change release	34	change_release
135	Can delete release	34	delete_release
136	Can view release	34	view_release
137	Can add seal	35	add_seal
138	Can change seal	35	change_seal
139	Can delete seal	35	delete_seal
140	Can view seal	35	view_seal
141	Can add set aside	36	add_setaside
142	Can change set aside	36	change_setaside
143	Can delete set aside	36	delete_setaside
144	Can view set aside	36	view_setaside
145	Can add signature	37	add_signature
146	Can change signature	37	change_signature
147	Can delete signature	37	delete_signature
148	Can view signature	37	view_signature
149	Can add standard	38	add_standard
150	Can change standard	38	change_standard
151	Can delete standard	38	delete_standard
152	Can view standard	38	view_standard
153	Can add tap	39	add_tap
154	Can change tap	39	change_tap
155	Can delete tap	39	delete_tap
156	Can view tap	39	view_tap
157	Can add criterion seen	40	add_criterionseen
158	Can change criterion seen	40	change_criterionseen
159	Can delete criterion seen	40	delete_criterionseen
160	Can view criterion seen	40	view_criterionseen
161	Can add stored verdict	41	add_storedverdict
162	Can change stored verdict	41	change_storedverdict
163	Can delete stored verdict	41	delete_storedverdict
164	Can view stored verdict	41	view_storedverdict
165	Can add sheet	42	add_sheet
166	Can change sheet	42	change_sheet
167	Can delete sheet	42	delete_sheet
168	Can view sheet	42	view_sheet
169	Can add permission	43	add_permission
170	Can change permission	43	change_permission
171	Can delete permission	43	delete_permission
172	Can view permission	43	view_permission
173	Can add group	44	add_group
174	Can change group	44	change_group
175	Can delete group	44	delete_group
176	Can view group	44	view_group
177	Can add content type	45	add_contenttype
178	Can change content type	45	change_contenttype
179	Can delete content type	45	delete_contenttype
180	Can view content type	45	view_contenttype
181	Can add session	46	add_session
182	Can change session	46	change_session
183	Can delete session	46	delete_session
184	Can view session	46	view_session
185	Can add procrastinate event	47	add_procrastinateevent
186	Can change procrastinate event	47	change_procrastinateevent
187	Can delete procrastinate event	47	delete_procrastinateevent
188	Can view procrastinate event	47	view_procrastinateevent
189	Can add procrastinate job	48	add_procrastinatejob
190	Can change procrastinate job	48	change_procrastinatejob
191	Can delete procrastinate job	48	delete_procrastinatejob
192	Can view procrastinate job	48	view_procrastinatejob
193	Can add procrastinate periodic defer	49	add_procrastinateperiodicdefer
194	Can change procrastinate periodic defer	49	change_procrastinateperiodicdefer
195	Can delete procrastinate periodic defer	49	delete_procrastinateperiodicdefer
196	Can view procrastinate periodic defer	49	view_procrastinateperiodicdefer
197	Can add procrastinate worker	50	add_procrastinateworker
198	Can change procrastinate worker	50	change_procrastinateworker
199	Can delete procrastinate worker	50	delete_procrastinateworker
200	Can view procrastinate worker	50	view_procrastinateworker
\.
COPY public.django_content_type (id, app_label, model) FROM stdin;
1	school	aerodrome
2	school	person
3	school	aircrafttype
4	school	aircraft
5	school	journalentry
6	school	paper
7	school	runway
8	school	school
9	lessons	manoeuvre
10	lessons	enrolment
11	lessons	gateset
12	lessons	gate
13	lessons	gatetarget
14	lessons	knowledgetest
15	lessons	lesson
16	lessons	circuit
17	lessons	criterion
18	lessons	syllabus
19	lessons	stage
20	lessons	fault
21	lessons	trainingitem
22	lessons	unit
23	lessons	unitmanoeuvre
24	lessons	endorsement
25	lessons	gatedraft
26	lessons	gradescale
27	lessons	syllabusdraft
28	lessons	syllabusmove
29	lessons	unitmapping
30	grading	attempt
31	grading	faultseen
32	grading	grade
33	grading	measure
34	grading	release
35	grading	seal
36	grading	setaside
37	grading	signature
38	grading	standard
39	grading	tap
40	grading	criterionseen
41	grading	storedverdict
42	grading	sheet
43	auth	permission
44	auth	group
45	contenttypes	contenttype
46	sessions	session
47	procrastinate	procrastinateevent
48	procrastinate	procrastinatejob
49	procrastinate	procrastinateperiodicdefer
50	procrastinate	procrastinateworker
\.
COPY public.django_migrations (id, app, name, applied) FROM stdin;
1	contenttypes	0001_initial	2026-11-25 19:41:55.092407+00
2	contenttypes	0002_remove_content_type_name	2026-11-25 19:41:55.096672+00
3	auth	0001_initial	2026-11-25 19:41:55.122265+00
4	auth	0002_alter_permission_name_max_length	2026-11-25 19:41:55.126004+00
5	auth	0003_alter_user_email_max_length	2026-11-25 19:41:55.129678+00
6	auth	0004_alter_user_username_opts	2026-11-25 19:41:55.134371+00
7	auth	0005_alter_user_last_login_null	2026-11-25 19:41:55.13764+00
8	auth	0006_require_contenttypes_0002	2026-11-25 19:41:55.139185+00
9	auth	0007_alter_validators_add_error_messages	2026-11-25 19:41:55.142184+00
10	auth	0008_alter_user_username_max_length	2026-11-25 19:41:55.145563+00
11	auth	0009_alter_user_last_name_max_length	2026-11-25 19:41:55.148786+00
12	auth	0010_alter_group_name_max_length	2026-11-25 19:41:55.152563+00
13	auth	0011_update_proxy_permissions	2026-11-25 19:41:55.155437+00
14	auth	0012_alter_user_first_name_max_length	2026-11-25 19:41:55.158957+00
15	school	0001_initial	2026-11-25 19:41:55.197841+00
16	school	0002_journal_is_final	2026-11-25 19:41:55.199734+00
17	school	0003_full_grading	2026-11-25 19:41:55.207005+00
18	lessons	0001_initial	2026-11-25 19:41:55.61784+00
19	lessons	0002_signed_is_final	2026-11-25 19:41:55.619894+00
20	lessons	0003_full_grading	2026-11-25 19:41:55.920199+00
21	lessons	0004_old_issues	2026-11-25 19:41:56.027227+00
22	lessons	0005_published_is_final	2026-11-25 19:41:56.053288+00
23	lessons	0006_outside_release	2026-11-25 19:41:56.065541+00
24	lessons	0007_uids	2026-11-25 19:41:56.103919+00
25	school	0004_countersigning	2026-11-25 19:41:56.107498+00
26	grading	0001_initial	2026-11-25 19:41:56.624906+00
27	grading	0002_signed_is_final	2026-11-25 19:41:56.627623+00
28	grading	0003_full_grading	2026-11-25 19:41:56.69175+00
29	grading	0004_criteria_seen_are_final	2026-11-25 19:41:56.6934+00
30	grading	0005_standards_are_final	2026-11-25 19:41:56.694916+00
31	grading	0006_kinds_of_release	2026-11-25 19:41:56.754177+00
32	grading	0007_sheets_of_all_kinds	2026-11-25 19:41:56.819456+00
33	grading	0008_record_subjects	2026-11-25 19:41:57.10078+00
34	procrastinate	0001_initial	2026-11-25 19:41:57.10928+00
35	procrastinate	0002_drop_started_at_column	2026-11-25 19:41:57.110987+00
36	procrastinate	0003_drop_started_at_column	2026-11-25 19:41:57.112453+00
37	procrastinate	0004_drop_procrastinate_version_table	2026-11-25 19:41:57.113957+00
38	procrastinate	0005_fix_procrastinate_fetch_job	2026-11-25 19:41:57.115791+00
39	procrastinate	0006_fix_trigger_status_events_insert	2026-11-25 19:41:57.116999+00
40	procrastinate	0007_add_queueing_lock_column	2026-11-25 19:41:57.118769+00
41	procrastinate	0008_close_fetch_job_race_condition	2026-11-25 19:41:57.120659+00
42	procrastinate	0009_add_defer_job_function	2026-11-25 19:41:57.122433+00
43	procrastinate	0010_add_procrastinate_periodic_defers	2026-11-25 19:41:57.12532+00
44	procrastinate	0011_add_foreign_key_index	2026-11-25 19:41:57.126947+00
45	procrastinate	0012_add_locks_to_periodic_defer	2026-11-25 19:41:57.128892+00
46	procrastinate	0013_fix_procrastinate_defer_periodic_job	2026-11-25 19:41:57.130485+00
47	procrastinate	0014_add_finish_job_and_retry_job_functions	2026-11-25 19:41:57.131627+00
48	procrastinate	0015_add_trigger_on_job_deletion	2026-11-25 19:41:57.132787+00
49	procrastinate	0016_delete_finished_jobs	2026-11-25 19:41:57.134022+00
50	procrastinate	0017_add_checks_to_finish_job	2026-11-25 19:41:57.13531+00
51	procrastinate	0018_add_checks_to_retry_job	2026-11-25 19:41:57.136393+00
52	procrastinate	0019_fix_finish_job_compat_issue	2026-11-25 19:41:57.137552+00
53	procrastinate	0020_add_index_on_procrastinate_jobs	2026-11-25 19:41:57.13925+00
54	procrastinate	0021_add_kwargs_to_defer_periodic_job	2026-11-25 19:41:57.141301+00
55	procrastinate	0022_null_locks_excluded	2026-11-25 19:41:57.142945+00
56	procrastinate	0023_remove_old_finish_job_function	2026-11-25 19:41:57.144243+00
57	procrastinate	0024_job_id_bigint	2026-11-25 19:41:57.1474+00
58	procrastinate	0025_add_models	2026-11-25 19:41:57.15081+00
59	procrastinate	0026_add_job_priority	2026-11-25 19:41:57.154167+00
60	procrastinate	0027_add_periodic_job_priority	2026-11-25 19:41:57.155563+00
61	procrastinate	0028_add_cancel_states	2026-11-25 19:41:57.159607+00
62	procrastinate	0029_add_additional_params_to_retry_job	2026-11-25 19:41:57.160965+00
63	procrastinate	0030_alter_procrastinateevent_options	2026-11-25 19:41:57.162779+00
64	procrastinate	0031_add_indexes_for_fetch_job	2026-11-25 19:41:57.165196+00
65	procrastinate	0032_pre_cancel_notification	2026-11-25 19:41:57.168908+00
66	procrastinate	0033_post_cancel_notification	2026-11-25 19:41:57.178244+00
67	procrastinate	0034_pre_add_heartbeat	2026-11-25 19:41:57.184179+00
68	procrastinate	0035_post_add_heartbeat	2026-11-25 19:41:57.185592+00
69	procrastinate	0036_add_worker_model	2026-11-25 19:41:57.188308+00
70	procrastinate	0037_pre_batch_defer_jobs	2026-11-25 19:41:57.190098+00
71	procrastinate	0038_post_batch_defer_jobs	2026-11-25 19:41:57.191338+00
72	procrastinate	0039_pre_priority_lock_fetch_job	2026-11-25 19:41:57.192636+00
73	procrastinate	0040_pre_retry_failed_job	2026-11-25 19:41:57.194361+00
74	procrastinate	0041_post_retry_failed_job	2026-11-25 19:41:57.196082+00
75	school	0005_journal_about	2026-11-25 19:41:57.202203+00
76	school	0006_journal_what	2026-11-25 19:41:57.204956+00
77	sessions	0001_initial	2026-11-25 19:41:57.209669+00
\.
COPY public.grading_attempt (id, part, ordinal, level, help, circuit_id, lesson_id, manoeuvre_id, step) FROM stdin;
1	takeoff	1	perform	none	1	1	15	
2	approach	1	perform	none	1	1	16	
3	landing	1	perform	none	1	1	17	
4	takeoff	1	perform	none	2	1	15	
5	approach	1	perform	none	2	1	16	
6	landing	1	perform	none	2	1	17	
7	takeoff	1	perform	none	3	2	15	
8	approach	1	perform	none	3	2	16	
9	landing	1	perform	none	3	2	17	
10	takeoff	1	perform	none	4	2	15	
11	approach	1	perform	none	4	2	16	
12	landing	1	perform	none	4	2	17	
\.
COPY public.grading_criterionseen (id, done, attempt_id, criterion_id) FROM stdin;
\.
COPY public.grading_faultseen (id, attempt_id, fault_id) FROM stdin;
\.
COPY public.grading_grade (id, proposed, explanation, given, help, lesson_id, manoeuvre_id, given_step, proposed_step) FROM stdin;
1	perform	Perform: as tapped (the lower of the last two).	perform	none	1	15		
2	perform	Perform: as tapped (the lower of the last two).	perform	none	1	16		
3	perform	Perform: as tapped (the lower of the last two).	perform	none	1	17		
4	perform	Perform: as tapped (the lower of the last two).	perform	none	2	15		
5	perform	Perform: as tapped (the lower of the last two).	perform	none	2	16		
6	perform	Perform: as tapped (the lower of the last two).	perform	none	2	17		
\.
COPY public.grading_measure (id, value, attempt_id, target_id, unit) FROM stdin;
\.
COPY public.grading_release (id, uid, runways, max_wind_kt, max_crosswind_kt, min_visibility_sm, min_ceiling_ft, valid_from, valid_until, training_on, reason, verdict, decided_at, withdrawn_at, withdrawal_reason, aerodrome_id, aircraft_type_id, decided_by_id, endorsed_by_id, enrolment_id, withdrawn_by_id, endorsement, kind) FROM stdin;
\.
COPY public.grading_seal (number, kind, subject, canonical, previous, digest, sealed_at) FROM stdin;
1	lesson	49121f42-e725-47e4-890d-c6a3f5feeb0b	{"aircraft":"QQ-XXA","aircraft_type":"Sandling 2","circuits":[{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":1,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}},{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":2,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}}],"correction_reason":"","date":"2026-06-08","enrolment":"0d4612f6-87b9-4ff6-9e9d-322687f0316e","format":2,"grades":[{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"takeoff","proposed":"perform","proposed_step":"perform","title":"Takeoff"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"approach","proposed":"perform","proposed_step":"perform","title":"Approach"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"landing","proposed":"perform","proposed_step":"perform","title":"Landing"}],"id":"49121f42-e725-47e4-890d-c6a3f5feeb0b","instructor":{"name":"Bert Example","reference":"T-2"},"landings":2,"manoeuvres":[],"minutes":{"dual":60,"ground":0,"instrument":0,"night":0,"solo":0},"next_time":"","number":1,"off_blocks":null,"on_blocks":null,"outside_release":"","record":"lesson","remarks":"","replaces":null,"runway":"ZZZX runway 18","scale":"Learner-centred grades, issue 1","signature":{"act":"signed","capacity":"instructor","certificate_number":"C-2","certificate_valid":"recent experience until 2027-10-24","id":"dc5e4663-2b79-4712-bbfe-bce9c75d6cd8","meaning":"I gave this training on this day, and what is recorded here is what I saw.","name":"Bert Example","reference":"T-2","remark":"","signed_at":"2026-06-08T11:00:00Z"},"student":{"name":"Dora Example","reference":"T-4"},"syllabus":"To first solo, issue 1","takeoffs":2,"unit":{"kind":"dual","number":8,"title":"First circuits"},"version":1,"weather_report":"","wind":{"from":null,"gust_kt":null,"north":"magnetic","speed_kt":null}}		6571c30b661209c52db89837f089bd468d2e7fc0e78577e06d640403f2c24cc3	2026-06-08 11:00:00+00
2	lesson	a2158d51-a0c3-484d-bc85-a9353229e9c2	{"aircraft":"QQ-XXA","aircraft_type":"Sandling 2","circuits":[{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":1,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}},{"approach":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"approach","measures":[],"step":"perform"},"ending":"full_stop","landing":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"landing","measures":[],"step":"perform"},"number":2,"takeoff":{"criteria":{},"faults":[],"help":"none","level":"perform","manoeuvre":"takeoff","measures":[],"step":"perform"}}],"correction_reason":"","date":"2026-06-10","enrolment":"0d4612f6-87b9-4ff6-9e9d-322687f0316e","format":2,"grades":[{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"takeoff","proposed":"perform","proposed_step":"perform","title":"Takeoff"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"approach","proposed":"perform","proposed_step":"perform","title":"Approach"},{"explanation":"Perform: as tapped (the lower of the last two).","given":"perform","given_step":"perform","help":"none","manoeuvre":"landing","proposed":"perform","proposed_step":"perform","title":"Landing"}],"id":"a2158d51-a0c3-484d-bc85-a9353229e9c2","instructor":{"name":"Bert Example","reference":"T-2"},"landings":2,"manoeuvres":[],"minutes":{"dual":60,"ground":0,"instrument":0,"night":0,"solo":0},"next_time":"","number":2,"off_blocks":null,"on_blocks":null,"outside_release":"","record":"lesson","remarks":"","replaces":null,"runway":"ZZZX runway 18","scale":"Learner-centred grades, issue 1","signature":{"act":"signed","capacity":"instructor","certificate_number":"C-2","certificate_valid":"recent experience until 2027-10-24","id":"26a34d97-b4b9-4e94-8dcd-fe41dc3b71d6","meaning":"I gave this training on this day, and what is recorded here is what I saw.","name":"Bert Example","reference":"T-2","remark":"","signed_at":"2026-06-10T11:00:00Z"},"student":{"name":"Dora Example","reference":"T-4"},"syllabus":"To first solo, issue 1","takeoffs":2,"unit":{"kind":"dual","number":8,"title":"First circuits"},"version":1,"weather_report":"","wind":{"from":null,"gust_kt":null,"north":"magnetic","speed_kt":null}}	6571c30b661209c52db89837f089bd468d2e7fc0e78577e06d640403f2c24cc3	eed594368a27cea70ce4f691fd07e85a28bb7815502163a308aadc6f014a05f9	2026-06-10 11:00:00+00
\.
COPY public.grading_setaside (id, requirement, reason, decided_at, withdrawn_at, decided_by_id, enrolment_id, withdrawn_by_id) FROM stdin;
\.
COPY public.grading_sheet (id, uid, number, "on", paper, content, pdf, printed_at, enrolment_id, printed_by_id, digest, kind, instructor_id) FROM stdin;
\.
COPY public.grading_signature (id, uid, capacity, act, meaning, remark, name, reference, certificate_number, certificate_valid, signed_at, lesson_id, person_id, release_id, drawn, endorsement_id, enrolment_id) FROM stdin;
1	dc5e4663-2b79-4712-bbfe-bce9c75d6cd8	instructor	signed	I gave this training on this day, and what is recorded here is what I saw.		Bert Example	T-2	C-2	recent experience until 2027-10-24	2026-06-08 11:00:00+00	1	2	\N		\N	\N
2	26a34d97-b4b9-4e94-8dcd-fe41dc3b71d6	instructor	signed	I gave this training on this day, and what is recorded here is what I saw.		Bert Example	T-2	C-2	recent experience until 2027-10-24	2026-06-10 11:00:00+00	2	2	\N		\N	\N
\.
COPY public.grading_standard (id, key, rule_set, valid_from, content) FROM stdin;
1	eu-2025	eu	2025-01-01	{"key": "eu-2025", "title": "First solo, Part-FCL", "rule_set": "eu", "solo_level": "perform", "valid_from": "2025-01-01", "requirements": [{"key": "age", "kind": "legal", "check": "age", "group": "papers", "title": "Sixteen years of age", "source": "FCL.020(b), from memory", "values": {"years": 16}}, {"key": "medical", "kind": "legal", "check": "medical", "group": "papers", "title": "Medical in force", "source": "MED.A.030(a); its end is the date written on it", "values": {"classes": ["1", "2", "lapl"], "as_written": 1}}, {"key": "knowledge_test", "kind": "school", "check": "knowledge_test", "group": "papers", "title": "Pre-solo knowledge test", "source": "the school's own", "values": {"topics": ["rules", "aerodrome", "make_and_model"]}}, {"key": "training_received", "kind": "school", "check": "training_received", "group": "training", "title": "Training before first solo received", "source": "in place of AMC1 FCL.210 exercises 1 to 13, by the items of 14 CFR 61.87(d)", "values": {"items": ["61.87(d)(1)", "61.87(d)(2)", "61.87(d)(3)", "61.87(d)(4)", "61.87(d)(5)", "61.87(d)(6)", "61.87(d)(7)", "61.87(d)(8)", "61.87(d)(9)", "61.87(d)(10)", "61.87(d)(11)", "61.87(d)(12)", "61.87(d)(13)", "61.87(d)(14)", "61.87(d)(15)"], "similar_types": []}}, {"key": "takeoffs_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three takeoffs in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["takeoff"], "needed": 3, "lessons": 2}}, {"key": "approaches_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three approaches in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["approach"], "needed": 3, "lessons": 2}}, {"key": "landings_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three landings in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["landing"], "needed": 3, "lessons": 2}}, {"key": "go_around", "kind": "school", "check": "shown_unaided", "group": "standard", "title": "Go-around shown without help", "source": "the school's own", "values": {"manoeuvres": ["go_around"]}}, {"key": "engine_failure", "kind": "school", "check": "last_at_level", "group": "standard", "title": "Engine failure after takeoff and circuit emergencies", "source": "the school's own", "values": {"manoeuvres": ["engine_failure_after_takeoff", "circuit_emergencies"]}}, {"key": "no_take_over", "kind": "school", "check": "no_take_over", "group": "standard", "title": "No taking over by the instructor", "source": "the school's own", "values": {"circuits": 10}}, {"key": "no_open_critical_fault", "kind": "school", "check": "no_open_critical_fault", "group": "standard", "title": "No open critical fault", "source": "the school's own", "values": {"clean": 3}}, {"key": "second_instructor", "kind": "school", "check": "second_instructor", "group": "standard", "title": "Stage check with a second instructor", "source": "the school's own", "values": {}}, {"key": "consistent", "kind": "school", "check": "consistent", "group": "consistency", "title": "Numbers at the gates hold", "source": "the school's own", "values": {"gates": ["landing-line.speed", "landing-line.height", "touchdown.distance"], "least": 6, "percent": 80}}, {"key": "recent_training", "kind": "legal", "check": "recent_training", "group": "recency", "title": "Training in the type within 30 days", "source": "FCL.020(a): authorised and supervised by an instructor; the days are the school's own", "values": {"days": 30}}, {"key": "recent_circuit", "kind": "school", "check": "recent_circuit", "group": "recency", "title": "A circuit to standard within 14 days", "source": "the school's own", "values": {"days": 14}}]}
2	us-2025	us	2025-01-01	{"key": "us-2025", "title": "First solo, 14 CFR part 61", "rule_set": "us", "solo_level": "perform", "valid_from": "2025-01-01", "requirements": [{"key": "student_certificate", "kind": "legal", "check": "paper", "group": "papers", "title": "Student pilot certificate", "source": "14 CFR 61.83", "values": {"kinds": ["student_certificate"]}}, {"key": "age", "kind": "legal", "check": "age", "group": "papers", "title": "Sixteen years of age", "source": "14 CFR 61.83(a)", "values": {"years": 16}}, {"key": "english", "kind": "legal", "check": "paper", "group": "papers", "title": "English read, spoken, written and understood", "source": "14 CFR 61.83(c)", "values": {"kinds": ["english"]}}, {"key": "medical", "kind": "legal", "check": "medical", "group": "papers", "title": "Medical in force", "source": "14 CFR 61.23(a)(3)(i), (d)", "values": {"classes": ["1", "2", "3"]}}, {"key": "knowledge_test", "kind": "legal", "check": "knowledge_test", "group": "papers", "title": "Pre-solo knowledge test", "source": "14 CFR 61.87(b)", "values": {"topics": ["rules", "aerodrome", "make_and_model"]}}, {"key": "training_received", "kind": "legal", "check": "training_received", "group": "training", "title": "Fifteen items of training received", "source": "14 CFR 61.87(c)-(d)", "values": {"items": ["61.87(d)(1)", "61.87(d)(2)", "61.87(d)(3)", "61.87(d)(4)", "61.87(d)(5)", "61.87(d)(6)", "61.87(d)(7)", "61.87(d)(8)", "61.87(d)(9)", "61.87(d)(10)", "61.87(d)(11)", "61.87(d)(12)", "61.87(d)(13)", "61.87(d)(14)", "61.87(d)(15)"], "similar_types": []}}, {"key": "tailwheel_endorsement", "kind": "legal", "check": "tailwheel_endorsement", "group": "training", "title": "Tailwheel endorsement", "source": "14 CFR 61.31(i)", "values": {}}, {"key": "takeoffs_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three takeoffs in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["takeoff"], "needed": 3, "lessons": 2}}, {"key": "approaches_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three approaches in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["approach"], "needed": 3, "lessons": 2}}, {"key": "landings_in_a_row", "kind": "school", "check": "in_a_row", "group": "standard", "title": "Three landings in a row to standard", "source": "the school's own; three in a row is common practice", "values": {"part": ["landing"], "needed": 3, "lessons": 2}}, {"key": "go_around", "kind": "school", "check": "shown_unaided", "group": "standard", "title": "Go-around shown without help", "source": "the school's own", "values": {"manoeuvres": ["go_around"]}}, {"key": "engine_failure", "kind": "school", "check": "last_at_level", "group": "standard", "title": "Engine failure after takeoff and circuit emergencies", "source": "the school's own", "values": {"manoeuvres": ["engine_failure_after_takeoff", "circuit_emergencies"]}}, {"key": "no_take_over", "kind": "school", "check": "no_take_over", "group": "standard", "title": "No taking over by the instructor", "source": "the school's own", "values": {"circuits": 10}}, {"key": "no_open_critical_fault", "kind": "school", "check": "no_open_critical_fault", "group": "standard", "title": "No open critical fault", "source": "the school's own", "values": {"clean": 3}}, {"key": "second_instructor", "kind": "school", "check": "second_instructor", "group": "standard", "title": "Stage check with a second instructor", "source": "the school's own", "values": {}}, {"key": "consistent", "kind": "school", "check": "consistent", "group": "consistency", "title": "Numbers at the gates hold", "source": "the school's own", "values": {"gates": ["landing-line.speed", "landing-line.height", "touchdown.distance"], "least": 6, "percent": 80}}, {"key": "recent_training", "kind": "legal", "check": "recent_training", "group": "recency", "title": "Training in the type within 90 days", "source": "14 CFR 61.87(n), (p)", "values": {"days": 90}}, {"key": "recent_circuit", "kind": "school", "check": "recent_circuit", "group": "recency", "title": "A circuit to standard within 14 days", "source": "the school's own", "values": {"days": 14}}]}
\.
COPY public.grading_storedverdict (id, "on", engine, stale, content, "row", enrolment_id) FROM stdin;
\.
COPY public.grading_tap (id, uid, at, field, before, after, lesson_id, person_id, undoes_id) FROM stdin;
1	334f0cba-c973-4c8b-b146-30f2648f03ab	2026-06-11 10:00:00+00	lesson.dual_minutes		1:00	1	2	\N
2	eb17b245-d3c7-4331-be1e-d6265a4400f2	2026-06-11 10:00:00+00	circuit.1.takeoff.level		perform	1	2	\N
3	6dbd7fdf-e5b2-4775-a20d-921f4938289f	2026-06-11 10:00:00+00	circuit.1.approach.level		perform	1	2	\N
4	f731384e-65aa-4062-bd8b-3c9d0fe4fd4e	2026-06-11 10:00:00+00	circuit.1.landing.level		perform	1	2	\N
5	7308ab23-8744-41b0-9e90-1acfaa6622e9	2026-06-11 10:00:00+00	circuit.1.closed		on	1	2	\N
6	ee9975af-20fc-45ba-b1ac-8b391bbd2d5b	2026-06-11 10:00:00+00	circuit.2.takeoff.level		perform	1	2	\N
7	b2a651de-cd1f-47b2-89e3-ba6b35c0d624	2026-06-11 10:00:00+00	circuit.2.approach.level		perform	1	2	\N
8	8586cffd-a319-4365-8a29-19cc48de07c6	2026-06-11 10:00:00+00	circuit.2.landing.level		perform	1	2	\N
9	b005e902-6f4b-4e05-8d7d-5662ac7a9751	2026-06-11 10:00:00+00	circuit.2.closed		on	1	2	\N
10	aa1beb70-10c5-419e-9254-1cab23d88f9e	2026-06-11 10:00:00+00	lesson.dual_minutes		1:00	2	2	\N
11	2fb64346-c5a1-4a91-b1d7-26d04b86317b	2026-06-11 10:00:00+00	circuit.1.takeoff.level		perform	2	2	\N
12	2901ba7d-7fab-410c-b0cb-5c1532ce8aaf	2026-06-11 10:00:00+00	circuit.1.approach.level		perform	2	2	\N
13	54ff0e1a-6947-4df2-ac14-02067ec29707	2026-06-11 10:00:00+00	circuit.1.landing.level		perform	2	2	\N
14	bb0e5b24-8efc-4e63-aa3d-2e48c4eaee58	2026-06-11 10:00:00+00	circuit.1.closed		on	2	2	\N
15	03e5065d-35b5-4707-8655-5984dcb40681	2026-06-11 10:00:00+00	circuit.2.takeoff.level		perform	2	2	\N
16	5835a28d-aed7-40eb-9c0a-8ad1fe3cbb1a	2026-06-11 10:00:00+00	circuit.2.approach.level		perform	2	2	\N
17	623e9535-5add-4d72-bcae-0004b6759f7b	2026-06-11 10:00:00+00	circuit.2.landing.level		perform	2	2	\N
18	bc82b19a-53e1-4b00-bed9-69b4f6152c47	2026-06-11 10:00:00+00	circuit.2.closed		on	2	2	\N
\.
COPY public.lessons_circuit (id, number, ending, closed, lesson_id) FROM stdin;
1	1	full_stop	t	1
2	2	full_stop	t	1
3	1	full_stop	t	2
4	2	full_stop	t	2
\.
COPY public.lessons_criterion (id, code, "order", text, kind, gate, quantity, from_unit, manoeuvre_id) FROM stdin;
1	plan	0	Weather, weight, performance and fuel worked out before the walk-round	observed			\N	1
2	walk-round	1	Walk-round complete and in order; fuel and oil seen, not assumed	observed			\N	1
3	start	2	Area called clear; start, warm-up and instrument checks by the list	observed			\N	1
4	after	3	Shut down, made safe and written up after flight	observed			\N	1
5	brakes	0	Brakes checked at the first roll	observed			\N	2
6	pace	1	Walking pace, power before brake	observed			\N	2
7	wind	2	Stick held for the wind	observed			\N	2
8	weave	3	Weaves to see ahead where the nose hides the way	observed			\N	2
9	run-up	4	Run-up into wind, clear behind, eyes outside	observed			\N	2
10	scan	0	Scans in sectors, clears the turn before turning	observed			\N	3
11	wake	1	Leaves room behind heavier traffic	observed			\N	3
12	shear	2	Names signs of windshear and what to do	observed			\N	3
13	primary	0	Knows what each control does and its further effect	observed			\N	4
14	trim	1	Trims off the load, not with it	observed			\N	4
15	attitude	0	Sets attitude and power, then trims	observed			\N	5
16	height	1	Holds height and heading by the horizon, checks by instrument	observed			\N	5
17	balance	2	Ball in the middle, wings level	observed			\N	5
18	attitude	0	Power, attitude, trim in that order; rudder for the power	observed			\N	6
19	speed	1	Holds the climb speed, clears ahead of the nose	observed			\N	6
20	turn	2	Climbing turns shallow, speed held	observed			\N	6
21	level	3	Levels off at the height, then reduces power	observed			\N	6
22	glide	0	Holds the gliding speed in high and low drag	observed			\N	7
23	turn	1	Descending turns both ways, speed held	observed			\N	7
24	engine	2	Warms the engine in a long glide	observed			\N	7
25	lookout	0	Looks before and through the turn	observed			\N	8
26	balance	1	In balance both ways	observed			\N	8
27	height	2	Height held, bank steady	observed			\N	8
28	roll-out	3	Rolls out on the heading	observed			\N	8
29	control	0	Keeps height and heading slow, without the warning sounding	observed			\N	9
30	recover	1	Returns to cruise without losing height	observed			\N	9
31	checks	0	Height, clear below, loose articles checked first	observed			\N	10
32	signs	1	Calls the first sign	observed			\N	10
33	recovery	2	Eases the stick forward first; then power, wings level, out of the dive	observed			\N	10
34	full	3	Recovers from the full stall without a second one	observed			\N	10
35	spin	4	Knows what leads to a spin and leaves it at the first yaw	observed			\N	10
36	drift	0	Allows for the wind along a line and round a point	observed			\N	11
37	height	1	Holds height and speed while looking outside	observed			\N	11
38	bank	2	Steepens and eases the bank as the wind asks	observed			\N	11
39	lookout	0	Looks, then leaves by the way the aerodrome publishes	observed			\N	12
40	height	1	Leaves at or above circuit height, clear of those joining	observed			\N	12
41	angle	0	Joins at a shallow angle, looking for others	observed			\N	13
42	height	1	Level at the joining height	measured	join	height	\N	13
43	speed	2	Speed on joining	measured	join	speed	\N	13
44	calls	3	Calls and checks in time	observed			\N	13
45	lookout	0	Looks before every turn; knows where the others are	observed			\N	14
46	spacing	1	Keeps the same distance out, allowing for the wind	observed			\N	14
47	downwind	2	Level on the downwind leg	measured	downwind	height	\N	14
48	checks	3	Checks called; wheels seen locked where they retract	observed			\N	14
49	flap	4	Flap set at its place and trimmed	observed			\N	14
50	level	5	Height abeam the point	measured	abeam	height	\N	14
51	speed	6	Speed abeam the point	measured	abeam	speed	\N	14
52	lookout	0	Looks along the approach before lining up	observed			\N	15
53	power	1	Power smoothly to the limit, engine read	observed			\N	15
54	tail	2	Attitude set and held; tail raised where there is one to raise	observed			9	15
55	straight	3	Held straight, swing met early with small feet	observed			\N	15
56	lift-off-attitude	4	Flies off in the right attitude	observed			9	15
57	lift-off	5	Lift-off speed	measured	lift-off	speed	\N	15
58	wheels	6	Wheels up at their height, where they retract	measured	wheels-up	height	9	15
59	flap	7	Flap up at its height, where it was set	measured	flap-up	height	9	15
60	reduce	8	Power and propeller back once safe	observed			9	15
61	climb	9	Climb speed, in trim	measured	climb	speed	\N	15
62	turn	10	First turn at its height, after looking	measured	first-turn	height	\N	15
63	after	11	After-takeoff checks done	observed			\N	15
64	power	0	Power and propeller set at the right place	observed			10	16
65	start	1	Turn begun in time for the wind	observed			\N	16
66	turn	2	Turn in balance, never steepened to reach the line	observed			\N	16
67	place	3	Wings level on the landing line at its distance from the point	measured	landing-line	distance	\N	16
68	speed	4	Speed on the landing line	measured	landing-line	speed	\N	16
69	height	5	Height on the landing line	measured	landing-line	height	\N	16
70	obstacle	6	Clears what lies before the runway with room	observed			\N	16
71	wind	7	Speed and line allow for wind and gust	observed			\N	16
72	round-out	0	Round-out begun at its height	measured	round-out	height	10	17
73	low	1	Landing attitude reached low	observed			\N	17
74	held	2	Held off until it will fly no more	observed			\N	17
75	attitude	3	Touches in the landing attitude, no drift	observed			\N	17
76	place	4	Touchdown on or just past the point	measured	touchdown	distance	\N	17
77	roll	5	Rolls straight to a stop, stick back	observed			\N	17
78	throttle	6	Hand near the throttle until slow	observed			\N	17
79	limit	0	Works out the crosswind and names both limits: the type’s and their own	observed			\N	18
80	aileron	1	Aileron into wind, less as speed comes	observed			\N	18
81	clean	2	Leaves the ground clean, then sets the drift	observed			\N	18
82	limit	0	Works out the crosswind on the day and says go or no	observed			\N	19
83	align	1	Aligned and without drift at touchdown	observed			\N	19
84	wing	2	Upwind wheel first, aileron kept in to the stop	observed			\N	19
85	attitude	0	Near level at touchdown, sinking slowly	observed			\N	20
86	pin	1	Eases forward on contact, never jabs	observed			\N	20
87	tail	2	Tail lowered by the stick before the controls fade	observed			\N	20
88	why	3	Knows whether the maker advises against it	observed			\N	20
89	plan	0	Wider, longer, flatter: says why beforehand	observed			\N	21
90	speed	1	Holds the flapless speed of the type’s handbook	observed			\N	21
91	type	0	Slips only as the type’s handbook allows	observed			\N	22
92	speed	1	Speed held in the slip, by attitude	observed			\N	22
93	straighten	2	Straightened in time, low but not late	observed			\N	22
94	decide	0	Decides early and alone	observed			\N	23
95	power	1	Full power at once, feet with it, nose held	observed			\N	23
96	flap	2	Flap up in steps once climbing	observed			\N	23
97	climb	3	Climbs away straight, in trim, then calls	observed			\N	23
98	plan	0	Names the place and the signs for stopping beforehand	observed			\N	24
99	close	1	Throttle shut at once, straight, brakes with care	observed			\N	24
100	plan	0	Says the plan before each takeoff	observed			\N	25
101	nose	1	Nose down at once to the gliding speed	observed			\N	25
102	ahead	2	Lands ahead, small turns only, never back	observed			\N	25
103	drill	3	Fuel, switches, straps, in what time there is	observed			\N	25
104	field	0	Picks a place within reach from any leg	observed			\N	26
105	glide	1	Glides to it, saves height for the last turn	observed			\N	26
106	drill	2	Flies first; then drill and call	observed			\N	26
107	glide	0	Best gliding speed at once, trimmed	observed			\N	27
108	field	1	Chooses a landing area in reach, for wind and surface	observed			\N	27
109	path	2	Plans heights on the way; flap or slip only when sure of it	observed			\N	27
110	break	3	Breaks off at the agreed height, engine warmed	observed			\N	27
111	fly	0	Flies first, then finds the fault	observed			\N	28
112	list	1	Uses the type’s list; knows what is done from memory	observed			\N	28
113	systems	2	Says what is lost with electrics, airspeed, flap, brakes or wheels	observed			\N	28
114	calls	0	Short, in time, listens first	observed			\N	29
\.
COPY public.lessons_endorsement (id, kind, paragraph, text, given_on, certificate_number, recorded_at, withdrawn_at, aircraft_type_id, given_by_id, recorded_by_id, withdrawn_by_id, enrolment_id, uid) FROM stdin;
\.
COPY public.lessons_enrolment (id, uid, enrolled_on, ended_on, "end", aircraft_type_id, instructor_id, student_id, syllabus_id) FROM stdin;
1	0d4612f6-87b9-4ff6-9e9d-322687f0316e	2025-11-23	\N		1	2	4	1
2	bcc8c229-e897-4bae-8eda-add699fbf961	2025-11-23	\N		1	2	5	1
\.
COPY public.lessons_fault (id, code, "order", name, critical, cause, cure, source, syllabus_id, signs) FROM stdin;
1	no-lookout-lining-up	0	No look-out	t	In a hurry to roll, or eyes on the checklist.	Stop at the line, look along the approach and the runway, say what you see.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
2	throttle-abrupt	1	Throttle abrupt	f	The hand moves before the feet are ready.	Count three from idle to full; let the feet answer as the power comes.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
3	engine-not-read	2	Engine not read	f	All attention goes to keeping straight.	Full power, one glance: pressures, revolutions, speed alive. If one is wrong, stop.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
4	swing-late	3	Swing met late	f	Looking at the nose and not along the runway edge.	Look far ahead; small quick rudder, off again before it bites.	common practice	1	{}
5	swerved-takeoff	4	Swerved	t	Swing let go too far, then too much rudder.	If it is not coming back, close the throttle, keep straight, stop; begin again from the start.	common practice	1	{}
6	tail-attitude	5	Tail attitude wrong	f	Stick pushed or held by habit.	Set the attitude against the horizon and hold it; feel the weight leave the wheels.	common practice	1	{}
7	lift-off-early	6	Lifted off early	f	Pulled by the speed dial or by impatience.	Let it fly off from the attitude; a light pull only when it is ready.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{lift-off.speed.under}
8	torque	7	Torque not held	f	Rudder eased once the wheels are off.	Hold the ball in the middle until the power is back.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
9	climb-drift	8	Wing low in the climb	f	Looking only at the nose, so a low wing goes unseen.	Look to both sides and behind in turn; the runway should lie straight back.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{}
10	climb-speed	9	Climb speed off	f	Chasing the needle.	Set attitude and power, wait, trim, then read.	Airplane Flying Handbook (FAA-H-8083-3), Takeoffs and Departure Climbs	1	{climb.speed.over,climb.speed.under}
11	checks-late-takeoff	10	Checks late	f	Busy with the climb, so the flow is forgotten.	Tie each check to a height.	common practice	1	{}
12	first-turn-low	11	First turn low	t	Turning on habit or to keep the circuit small.	Speed, height, look: all three before the first bank. Never turn to catch up.	common practice	1	{first-turn.height.under}
13	circuit-lookout	12	No look-out	t	Eyes on the runway or the instruments, ears on the radio only.	Look along the new heading before each turn and say it; find everyone you heard.	common practice	1	{}
14	spacing	13	Spacing wrong	f	Wind not allowed for, or eyes inside.	Pick a place on the wing for the runway and keep it there.	common practice	1	{}
15	height-circuit	14	Height wandered	f	Out of trim on the downwind leg.	Level, wait for the speed, trim, then look out.	common practice	1	{downwind.height.over,downwind.height.under,join.height.over,join.height.under,abeam.height.over,abeam.height.under}
16	checks-late	15	Checks late	f	The downwind leg was used for something else.	Begin the checks abeam the far end, always.	common practice	1	{}
17	gear-not-checked	16	Wheels not checked	t	The call was made from habit, without looking.	Touch, look, say: the call comes after the eye.	common practice	1	{}
18	joined-steep	17	Joined at a bad angle	f	Runway seen late, or joining height reached in the circuit.	Be level and slow before the circuit; go out and come in again if it is not right.	common practice	1	{}
19	late-turn	18	Late turn to the line	f	Watching the runway come instead of the wind.	Begin the turn earlier by the drift; if it is overshot, go around rather than steepen.	common practice	1	{landing-line.distance.over}
20	early-turn	19	Early turn to the line	f	Afraid to go too far out.	Hold on until the point is where it belongs behind the wing.	common practice	1	{landing-line.distance.under}
21	steep-turn-low	20	Steep turn, low	t	Trying to save an overshot line with bank.	Level the wings and go around: the line can be flown again.	common practice	1	{turn.bank.over}
22	skidding-turn	21	Skidding turn	t	Rudder used to hurry the nose round.	Bank and rudder together; look at the ball before the speed.	common practice	1	{}
23	final-slow	22	Too slow on the line	t	Attitude not set again after power or flap was changed; needle not read.	Power first, then the nose; slow and low together, go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{landing-line.speed.under,turn.speed.under}
24	stretched	23	Glide stretched	t	Nose raised to reach the point, without power.	Pitch alone shortens the glide. Add power at once, or go around; with no engine, take the nearer place.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
25	final-fast	24	Fast on the line	f	Nose down without less power, or power left on.	Attitude for the speed, power for the path; trim.	common practice	1	{landing-line.speed.over,turn.speed.over,base.speed.over}
26	final-high	25	High on the line	f	Power back late, or the turn begun early.	Less power, flap, slip if the type allows; go around if it stays steep.	Airplane Flying Handbook (FAA-H-8083-3A), Approaches and Landings	1	{landing-line.height.over,turn.height.over,base.height.over}
27	final-low	26	Low on the line	f	Power back early, or the wind not seen.	Power at once and level until back on the path; leave the flap where it is. In doubt, go around.	Airplane Flying Handbook (FAA-H-8083-3A), Approaches and Landings	1	{landing-line.height.under,turn.height.under,base.height.under}
28	drift-final	27	Drift on the line	f	Wind not allowed for after the turn.	Set the wing or the heading early and keep it.	common practice	1	{}
29	no-trim	28	Out of trim	f	Holding the load by arm.	Trim at every change of power or flap.	common practice	1	{}
30	no-go-around	29	No go-around	t	Not settled, and pressed on in the hope of a good landing.	If it is not right by the landing line, go around. Nobody marks a go-around down.	common practice	1	{}
31	round-out-high	30	Round-out high	f	Eyes too near, or the runway looks narrow.	Look at the far end; hold what you have, let it settle, power if it sinks; in doubt, go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{round-out.height.over}
32	round-out-low	31	Round-out low	f	Eyes too far, or waiting for the ground.	Begin at its height, slowly, and look ahead; if it is late, power before it drops, never a snatch.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{round-out.height.under}
33	ballooned	32	Ballooned	f	Stick back too fast.	Hold the attitude, cushion with power if small; go around if large.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
34	bounced	33	Bounced	f	Touched too fast or nose too low.	Hold the landing attitude, a little power, land again; go around if it is high.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
35	bounce-chased	34	Bounce chased	t	Stick pushed after the bounce.	Never push: full power and go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{}
36	floated	35	Floated	f	Too fast over the threshold.	Hold it level and wait; past the first third, go around.	Airplane Flying Handbook (FAA-H-8083-3C), Approaches and Landings	1	{touchdown.distance.over}
37	drifted	36	Drift at touchdown	f	Wing let up in the flare.	Keep the wing down into wind and the nose along the runway until it stops.	Airplane Flying Handbook (FAA-H-8083-3A), Approaches and Landings	1	{}
38	touchdown-attitude	37	Wrong attitude	f	Let down before it was done flying, or the stick eased at the last moment.	Keep the stick coming back until the wheels touch of their own accord.	common practice	1	{}
39	landed-short	38	Landed short	t	Path too low and stretched.	Aim past the point; power early; go around when in doubt.	common practice	1	{touchdown.distance.under}
40	swerved	39	Swerved in the roll	f	Feet stopped when the wheels touched.	The flight ends when it stands still: keep the feet alive.	common practice	1	{}
41	ground-loop	40	Ground loop	t	A swerve not met in time.	Small early rudder; brake only with care, on the side that helps. Have the aeroplane inspected.	Airplane Flying Handbook (FAA-H-8083-3), Approaches and Landings	1	{}
42	heavy-braking	41	Heavy braking	t	Stopping by brake instead of by plan; with a tailwheel it can tip on the nose.	Stick back, let it slow, brake gently when straight.	common practice	1	{}
43	slip-slow	42	Slow in the slip	t	Nose held up with the controls crossed; the needle may lie in a slip.	Nose to the attitude of the glide, then slip; straighten at the first buffet or warning.	common practice	1	{}
44	aileron-let-go	43	Aileron let go	f	Hands centred once the wheels roll.	As speed comes, less aileron; as speed goes, more, to the stop.	common practice	1	{}
45	late-decision	44	Late decision	t	Hoping it would come right.	Decide by the landing line; in doubt, go.	common practice	1	{}
46	flap-too-soon	45	Flap up too soon	t	All of it raised at once, low.	Power, attitude, then flap in steps.	common practice	1	{}
47	swing-go-around	46	Swing not held	f	Full power without the feet.	Feet with the throttle, as in a takeoff.	common practice	1	{}
48	nose-high-go-around	47	Nose too high	t	Trim for the approach lifts the nose when power comes, and it is not held.	Push to the climb attitude and hold; trim at once; read the speed.	common practice	1	{}
49	nose-not-lowered	48	Nose not lowered	t	Surprise.	Say “nose” and push before anything else.	common practice	1	{}
50	turned-back	49	Turned back	t	The runway is behind and pulls.	Land ahead. Below the height the school names, never turn back.	common practice	1	{}
51	field-out-of-reach	50	Place out of reach	f	The best field was chosen instead of the nearest good one.	Look down and near first; choose once, change only for a reason.	common practice	1	{}
52	late-recovery	51	Recovered late	f	Waiting for the break.	Recover at the first sign, unless the full stall was briefed.	common practice	1	{}
53	second-stall	52	Second stall	t	Pulled out before there was speed to pull with.	Stick forward until it flies, then ease out; wait for the speed.	common practice	1	{}
54	aileron-in-stall	53	Aileron in the stall	t	Lifting the wing by hand.	Stick forward first, rudder to stop the yaw, then level.	common practice	1	{}
55	fast-taxi	54	Taxied fast	f	Time pressure.	Walking pace; throttle shut before brake.	common practice	1	{}
56	taxi-blind	55	Did not weave	t	Trusting that nothing is behind the nose.	Weave, and stop when you cannot see; ask for a marshal.	common practice	1	{}
57	nose-over-risk	56	Power against brake	t	Brake and throttle used together with the stick forward: it can tip on the nose.	Throttle shut, stick back, brakes released, then move off gently.	common practice	1	{}
58	taxi-wind	57	Stick wrong for wind	f	Wind forgotten after a turn.	Say where the wind is at each turn; dive away from it, climb into it.	common practice	1	{}
\.
COPY public.lessons_fault_manoeuvres (id, fault_id, manoeuvre_id) FROM stdin;
1	1	15
2	2	15
3	3	15
4	4	18
5	4	15
6	5	18
7	5	15
8	6	15
9	7	15
10	8	15
11	9	15
12	10	15
13	11	15
14	12	15
15	13	12
16	13	13
17	13	14
18	14	14
19	15	13
20	15	14
21	16	14
22	17	14
23	18	13
24	19	16
25	20	16
26	21	16
27	22	16
28	23	16
29	23	21
30	24	16
31	24	27
32	25	16
33	26	16
34	27	16
35	27	21
36	28	16
37	28	19
38	29	16
39	29	14
40	30	16
41	31	17
42	32	17
43	33	17
44	34	17
45	34	20
46	35	17
47	35	20
48	36	17
49	36	21
50	37	17
51	37	19
52	37	20
53	38	17
54	39	17
55	40	17
56	40	19
57	41	17
58	41	19
59	42	17
60	43	22
61	44	18
62	44	19
63	45	23
64	46	23
65	47	23
66	48	23
67	49	25
68	49	27
69	50	25
70	51	26
71	51	27
72	52	10
73	53	10
74	54	10
75	55	2
76	56	2
77	57	2
78	58	2
\.
COPY public.lessons_gate (id, code, name, phase, "order", configuration, "where", along_ft, gate_set_id, leg) FROM stdin;
1	lift-off	The lift-off	takeoff	1	takeoff power, takeoff flap, tail just up	as it flies off	0	1	upwind
2	wheels-up	Wheels up	takeoff	2	climbing, wheels braked	when no runway is left to land on	1400	1	upwind
3	flap-up	Flap up	takeoff	3	wheels up, speed rising	straight ahead, wings level	2700	1	upwind
4	climb	The climb	takeoff	4	climb power, wheels and flap up	past the runway end	3500	1	upwind
5	first-turn	The first turn	takeoff	5	after-takeoff checks done	beyond the runway end, within 300 ft of circuit height	7500	1	upwind
6	join	Joining	circuit	6	level, clean	shallow angle to the downwind leg	12800	1	downwind
7	downwind	Downwind	circuit	7	wheels down and seen locked	abeam the middle of the runway	15300	1	downwind
8	flap	First flap	circuit	8	first flap, trimmed	when settled on the let-down	17800	1	downwind
9	abeam	Abeam the point	circuit	9	wheels locked, first flap	abeam the touchdown point	19900	1	downwind
10	power-back	Power back	approach	10	power back, propeller to fine pitch	where the gliding turn begins	21500	1	downwind
11	turn	The gliding turn	approach	11	power back, landing flap	half way round	23550	1	base
12	landing-line	The landing line	approach	12	all set, wings level	1,600 ft before the point	25600	1	final
13	round-out	The round-out	landing	13	throttle closing	100 ft before the point	27100	1	final
14	touchdown	The touchdown	landing	14	three wheels	from the point, in the first third of the runway	27200	1	final
\.
COPY public.lessons_gatedraft (id, content, edited_at, aircraft_type_id, edited_by_id) FROM stdin;
\.
COPY public.lessons_gateset (id, issue, valid_from, aircraft_type_id, published, shape) FROM stdin;
1	1	2025-01-01	1	t	oval
\.
COPY public.lessons_gatetarget (id, quantity, value, over, under, unit, wind_rule, gate_id) FROM stdin;
1	speed	64.0	5.0	4.0	kt	none	1
2	height	120.0	80.0	20.0	ft	none	2
3	height	240.0	60.0	40.0	ft	none	3
4	speed	85.0	10.0	5.0	kt	none	4
5	height	650.0	100.0	50.0	ft	none	5
6	height	900.0	100.0	100.0	ft	none	6
7	speed	105.0	10.0	10.0	kt	none	6
8	height	900.0	100.0	100.0	ft	none	7
9	speed	98.0	10.0	10.0	kt	none	7
10	height	840.0	100.0	100.0	ft	none	8
11	speed	92.0	10.0	10.0	kt	none	8
12	height	700.0	100.0	100.0	ft	none	9
13	speed	88.0	10.0	10.0	kt	none	9
14	height	570.0	80.0	60.0	ft	none	10
15	speed	82.0	10.0	5.0	kt	none	10
16	height	380.0	60.0	40.0	ft	none	11
17	speed	76.0	10.0	5.0	kt	half_gust	11
18	bank	22.0	8.0	10.0	deg	none	11
19	height	180.0	40.0	30.0	ft	none	12
20	speed	68.0	10.0	5.0	kt	half_gust	12
21	distance	1600.0	200.0	200.0	ft	none	12
22	height	25.0	10.0	10.0	ft	none	13
23	distance	0.0	400.0	0.0	ft	none	14
\.
COPY public.lessons_gradescale (id, code, issue, title, rule, solo, steps) FROM stdin;
1	five-steps	1	Five numbered steps	last_two	4	[{"code": "1", "label": "1", "level": "describe", "meaning": "not done, or not safe without the instructor"}, {"code": "2", "label": "2", "level": "explain", "meaning": "done with help on the controls"}, {"code": "3", "label": "3", "level": "practice", "meaning": "done with a word from the instructor"}, {"code": "4", "label": "4", "level": "perform", "meaning": "done alone, inside the tolerances"}, {"code": "5", "label": "5", "level": "perform", "meaning": "done alone, exact, with time to spare"}]
2	learner-centred	1	Learner-centred grades	last_two	perform	[{"code": "describe", "label": "Describe", "level": "describe", "meaning": "can describe it, needs help to do it"}, {"code": "explain", "label": "Explain", "level": "explain", "meaning": "understands it, still needs help to carry it out"}, {"code": "practice", "label": "Practice", "level": "practice", "meaning": "carries it out, deviations corrected with coaching"}, {"code": "perform", "label": "Perform", "level": "perform", "meaning": "carries it out without help, to standard"}]
3	weakest-element	1	Four steps, marked by the weakest element	weakest	sound	[{"code": "unsafe", "label": "Unsafe", "level": "describe", "meaning": "would have been dangerous without the instructor"}, {"code": "uneven", "label": "Uneven", "level": "practice", "meaning": "safe with help, some elements not there yet"}, {"code": "sound", "label": "Sound", "level": "perform", "meaning": "every element there, alone"}, {"code": "fine", "label": "Fine", "level": "perform", "meaning": "every element there, alone, with grace"}]
\.
COPY public.lessons_knowledgetest (id, taken_on, topics, questions, wrong, reviewed_on, recorded_at, aircraft_type_id, enrolment_id, given_by_id, recorded_by_id, title, unit_id, uid) FROM stdin;
\.
COPY public.lessons_lesson (id, uid, number, version, correction_reason, "on", off_blocks, on_blocks, dual_minutes, solo_minutes, night_minutes, instrument_minutes, ground_minutes, takeoffs, landings, wind_direction, wind_speed_kt, wind_gust_kt, remarks, next_time, begun_at, signed_at, aircraft_id, begun_by_id, enrolment_id, instructor_id, runway_id, signed_by_id, supersedes_id, unit_id, weather_report, wind_reference, outside_release) FROM stdin;
1	49121f42-e725-47e4-890d-c6a3f5feeb0b	1	1		2026-06-08	\N	\N	60	0	0	0	0	2	2	\N	\N	\N			2026-06-08 09:00:00+00	2026-06-08 11:00:00+00	1	2	1	2	1	2	\N	8		magnetic	
2	a2158d51-a0c3-484d-bc85-a9353229e9c2	2	1		2026-06-10	\N	\N	60	0	0	0	0	2	2	\N	\N	\N			2026-06-10 09:00:00+00	2026-06-10 11:00:00+00	1	2	1	2	1	2	\N	8		magnetic	
\.
COPY public.lessons_manoeuvre (id, code, "order", title, phase, items, reference, syllabus_id, tailwheel_only) FROM stdin;
1	flight_preparation	0	Flight preparation	ground	{61.87(d)(1)}		1	f
2	taxiing	1	Taxiing	ground	{61.87(d)(2)}		1	f
3	lookout	2	Look-out and hazards	upper_air	{61.87(d)(7)}		1	f
4	effects_of_controls	3	Effects of controls	upper_air	{}		1	f
5	straight_and_level	4	Straight and level	upper_air	{61.87(d)(4)}		1	f
6	climbing	5	Climbing	climb	{61.87(d)(5)}		1	f
7	descending	6	Descending	upper_air	{61.87(d)(8)}		1	f
8	turning	7	Turning	upper_air	{61.87(d)(4)}		1	f
9	slow_flight	8	Slow flight	upper_air	{61.87(d)(9)}	FAA-S-ACS-6C PA.VII.A	1	f
10	stalls	9	Stalls	upper_air	{61.87(d)(10)}	FAA-S-ACS-6C PA.VII.B and C	1	f
11	ground_reference	10	Ground reference	upper_air	{61.87(d)(12)}	FAA-S-ACS-6C PA.V.B	1	f
12	departure	11	Leaving the circuit	climb	{61.87(d)(6)}		1	f
13	joining	12	Joining the circuit	joining	{61.87(d)(6)}		1	f
14	circuit	13	Circuit	circuit	{61.87(d)(6)}	FAA-S-ACS-6C PA.III.B	1	f
15	takeoff	14	Takeoff	takeoff	{61.87(d)(3)}	FAA-S-ACS-6C PA.IV.A	1	f
16	approach	15	Approach	approach	{61.87(d)(8)}	FAA-S-ACS-6C PA.IV.B	1	f
17	landing	16	Landing	landing	{61.87(d)(3)}	FAA-S-ACS-6C PA.IV.B	1	f
18	crosswind_takeoff	17	Crosswind takeoff	takeoff	{61.87(d)(3)}		1	f
19	crosswind_landing	18	Crosswind landing	landing	{61.87(d)(3)}		1	f
20	wheel_landing	19	Wheel landing (tailwheel)	landing	{61.87(d)(3)}	14 CFR 61.31(i)(1)(ii)	1	t
21	flapless_approach	20	Flapless approach	approach	{61.87(d)(8)}		1	f
22	slip	21	Slip to a landing	approach	{61.87(d)(14)}	FAA-S-ACS-6C PA.IV.M	1	f
23	go_around	22	Go-around	go_around	{61.87(d)(15)}	FAA-S-ACS-6C PA.IV.N	1	f
24	rejected_takeoff	23	Stopping a takeoff	emergencies	{61.87(d)(11)}		1	f
25	engine_failure_after_takeoff	24	Engine failure after takeoff	emergencies	{61.87(d)(11)}		1	f
26	circuit_emergencies	25	Circuit emergencies	emergencies	{61.87(d)(11),61.87(d)(13)}		1	f
27	simulated_engine_failure_approach	26	Approach, engine failure simulated	emergencies	{61.87(d)(13)}	FAA-S-ACS-6C PA.IX.B	1	f
28	malfunctions	27	Equipment malfunctions	emergencies	{61.87(d)(11)}		1	f
29	radio	28	Radio in the circuit	circuit	{}		1	f
\.
COPY public.lessons_stage (id, number, title, syllabus_id) FROM stdin;
1	1	Handling	1
2	2	Circuits	1
3	3	Solo	1
\.
COPY public.lessons_syllabus (id, code, issue, title, rule, published_on, scale_id) FROM stdin;
1	first-solo	1	To first solo	14 CFR 61.87(d), in the broad order of AMC1 FCL.210 exercises 1 to 14	2025-11-23	2
\.
COPY public.lessons_syllabusdraft (id, code, issue, content, edited_at, based_on_id, edited_by_id) FROM stdin;
\.
COPY public.lessons_syllabusmove (id, moved_at, after_id, before_id, enrolment_id, moved_by_id) FROM stdin;
\.
COPY public.lessons_trainingitem (id, code, "order", text, syllabus_id) FROM stdin;
1	61.87(d)(1)	0	Flight preparation: planning, systems, handling the engine	1
2	61.87(d)(2)	1	Taxiing and surface operations, run-ups included	1
3	61.87(d)(3)	2	Takeoffs and landings, normal and crosswind	1
4	61.87(d)(4)	3	Straight and level flight; turns both ways	1
5	61.87(d)(5)	4	Climbs and climbing turns	1
6	61.87(d)(6)	5	Circuits, with entry and departure	1
7	61.87(d)(7)	6	Avoiding collision, windshear and wake turbulence	1
8	61.87(d)(8)	7	Descents, straight and turning, high and low drag	1
9	61.87(d)(9)	8	Speeds from cruise to slow flight	1
10	61.87(d)(10)	9	Stalls: entry from various attitudes and powers; recovery at the first sign and from a full stall	1
11	61.87(d)(11)	10	Emergency procedures and equipment malfunctions	1
12	61.87(d)(12)	11	Ground reference manoeuvres	1
13	61.87(d)(13)	12	Approaches to a landing area with the engine failure simulated	1
14	61.87(d)(14)	13	Slips to a landing	1
15	61.87(d)(15)	14	Go-arounds	1
\.
COPY public.lessons_unit (id, number, title, kind, aim, brief, exercises, flies_circuits, ending, stage_id) FROM stdin;
1	1	The aeroplane and the aerodrome	ground	Know the aeroplane, its papers and the way to the runway.	Walk round together: papers, fuel, oil, loose articles, controls. Say the parts and what each does. Threat: the propeller, treated as live at all times.	1, 2	f	full_stop	1
2	2	First flight and controls	dual	Feel each control and trim; taxi out and back.	Attitude against the horizon, small pressures, trim off what the hand holds. Who has control is said aloud, always. Threat: each believes the other is flying.	3, 4, 5	f	full_stop	1
3	3	Straight, level, climbing, descending	dual	Hold height, heading and speed by attitude and trim.	Attitude, power, trim; power, attitude, trim. Read engine temperatures in the climb and in the glide. Threat: traffic hidden under the nose; weave in the climb.	6, 7, 8	f	full_stop	1
4	4	Turning	dual	Turn in balance both ways, level, climbing and descending.	Look, roll, hold, look. Agree the bank for today and the least height for turns. Threat: the nose drops while the eyes are inside.	9	f	full_stop	1
5	5	Slow flight	dual	Fly slowly under control and return to cruise.	Room below and a clearing turn first; at least 1,500 ft above the ground. Feel what the controls say before the warning does. Threat: slow with power on, the rudder is needed.	10a	f	full_stop	1
6	6	Stalls	dual	Know the first sign and recover at it, and from the full stall.	Height to recover at least 1,500 ft above the ground, clear below, loose articles stowed. Stick forward comes first, whatever the attitude. Threat: wing dropped with aileron, or a second stall on the pull-out.	10b, 11	f	full_stop	1
7	7	Ground reference and slips	dual	Allow for wind over the ground; lose height by slipping.	Take the wind from smoke and water, and plan the bank before the point. Slip only as the type’s handbook allows. Threat: low, slow and looking at the ground in a turn.	9	f	full_stop	1
8	8	First circuits	dual	Know the path, the gates and the checks.	Draw the circuit with its gates, and say the height and speed at each. The instructor lands until told otherwise. Circuits end with a full stop: the roll-out is half of what is learnt, most of all with a tailwheel. Threat: everybody else is in the same place.	12, 13	t	full_stop	2
9	9	Takeoff and climb out	dual	Keep it straight; leave the ground in the right attitude.	Feet alive, eyes far. Expect the swing and know why it comes. Say the engine-failure plan and the stopping place before each takeoff. Threat: swing late in the run, when the tail comes up.	12	t	full_stop	2
10	10	Approach to the line	dual	Reach the landing line at its speed and height.	Where power comes back, and where the turn begins in this wind. Never steepen to reach the line; if it is lost, go around. Threat: slow and skidding in the turn to the line. Circuits end with a full stop: the roll-out is half of what is learnt, most of all with a tailwheel.	13	t	full_stop	2
11	11	Round-out and landing	dual	Round out at its height, hold off, roll straight to a stop.	Eyes to the far end, and wait. What to do after a balloon and after a bounce, said before the first circuit. Threat: pushing after a bounce. Circuits end with a full stop: the roll-out is half of what is learnt, most of all with a tailwheel.	13	t	full_stop	2
12	12	Crosswind	dual	Take off and land with wind across.	Work out the crosswind for the runway; the type’s demonstrated value and the school’s limit are both named. Wing down until it stops. A wheel landing is for a tailwheel type only, and not where its maker advises against it. Threat: a swing at the end of the roll, when the rudder fades.	13	t	full_stop	2
13	13	Go-around and emergencies	dual	Decide early; land ahead; glide in from any leg.	Every simulated failure is announced as one before the throttle moves, and broken off at an agreed height. Below which height never turn back. Whoever first thinks of a go-around calls it. Threat: a practice failure becomes a real one.	12E, 13E	t	full_stop	2
14	14	Circuits to standard	dual	Fly every part to standard without help, twice over.	The instructor is silent and counts. Numbers at the gates are noted. Threat: pressing on for the sake of the count.	13	t	full_stop	2
15	15	Rules and the pre-solo test	ground	Know the rules, the aerodrome and the type well enough to be alone.	A test in three topics: rules, this aerodrome and its airspace, this type. Every wrong answer is talked through before any release. Threat: an answer learnt by heart and not understood.	2	f	full_stop	2
16	16	Check before first solo	stage_check	A second instructor sees the circuit flown to standard.	The checking instructor helps with nothing that the student could do alone, and steps in for safety only. A different voice, so say which words you use for taking control. Threat: a student flying to please.	13	t	full_stop	3
17	17	First solo	solo	One circuit alone, then three.	Only within a release in force and its limits, seen by the instructor from the ground. The aeroplane is lighter: it leaves the ground sooner and floats longer. Go around at the first doubt. Threat: one good landing, then relief.	14	t	full_stop	3
18	18	Solo consolidation	solo	Circuits alone after a dual check on the day.	Dual first, every time, on the day. The student says the limits aloud before going. Threat: wind that changes while the student is out.	14	t	full_stop	3
\.
COPY public.lessons_unitmanoeuvre (id, "order", expected, compulsory, manoeuvre_id, unit_id) FROM stdin;
1	0	describe	t	1	1
2	0	explain	f	1	2
3	1	practice	t	2	2
4	2	practice	t	4	2
5	3	explain	f	3	2
6	0	practice	t	5	3
7	1	practice	t	6	3
8	2	practice	t	7	3
9	3	practice	f	3	3
10	0	practice	t	8	4
11	1	practice	f	3	4
12	2	practice	f	6	4
13	3	practice	f	2	4
14	0	practice	t	9	5
15	1	perform	f	5	5
16	2	practice	f	3	5
17	0	practice	t	10	6
18	1	practice	f	9	6
19	2	practice	f	3	6
20	0	practice	t	11	7
21	1	practice	f	22	7
22	2	practice	f	7	7
23	3	practice	f	3	7
24	0	practice	t	15	8
25	1	explain	f	14	8
26	2	explain	t	16	8
27	3	explain	t	17	8
28	4	explain	f	23	8
29	5	practice	f	3	8
30	6	explain	f	29	8
31	7	explain	f	13	8
32	8	explain	f	12	8
33	0	practice	t	15	9
34	1	practice	f	14	9
35	2	practice	t	16	9
36	3	explain	t	17	9
37	4	practice	f	23	9
38	5	practice	f	3	9
39	6	practice	f	29	9
40	7	explain	t	25	9
41	0	practice	t	15	10
42	1	practice	f	14	10
43	2	practice	t	16	10
44	3	practice	t	17	10
45	4	practice	f	23	10
46	5	practice	f	3	10
47	6	practice	f	29	10
48	7	practice	f	13	10
49	8	practice	f	22	10
50	9	practice	f	12	10
51	0	practice	t	15	11
52	1	practice	f	14	11
53	2	practice	t	16	11
54	3	practice	t	17	11
55	4	practice	f	23	11
56	5	practice	f	3	11
57	6	practice	f	29	11
58	7	explain	f	19	11
59	8	explain	f	20	11
60	0	practice	t	15	12
61	1	practice	f	14	12
62	2	practice	t	16	12
63	3	practice	t	17	12
64	4	practice	f	23	12
65	5	practice	f	3	12
66	6	practice	f	29	12
67	7	practice	t	18	12
68	8	practice	t	19	12
69	9	practice	f	20	12
70	0	practice	t	15	13
71	1	practice	f	14	13
72	2	practice	t	16	13
73	3	practice	t	17	13
74	4	perform	f	23	13
75	5	practice	f	3	13
76	6	practice	f	29	13
77	7	practice	t	25	13
78	8	practice	t	26	13
79	9	practice	t	27	13
80	10	practice	f	24	13
81	11	practice	f	28	13
82	12	practice	f	21	13
83	0	perform	t	15	14
84	1	perform	f	14	14
85	2	perform	t	16	14
86	3	perform	t	17	14
87	4	perform	f	23	14
88	5	perform	f	3	14
89	6	perform	f	29	14
90	7	perform	f	25	14
91	8	perform	f	26	14
92	0	perform	t	1	15
93	0	perform	t	15	16
94	1	perform	f	14	16
95	2	perform	t	16	16
96	3	perform	t	17	16
97	4	perform	f	23	16
98	5	perform	f	3	16
99	6	perform	f	29	16
100	7	perform	t	25	16
101	0	perform	f	15	17
102	1	perform	f	16	17
103	2	perform	f	17	17
104	0	perform	f	15	18
105	1	perform	f	16	18
106	2	perform	f	17	18
107	3	perform	f	23	18
\.
COPY public.lessons_unitmapping (id, move_id, new_id, old_id) FROM stdin;
\.
COPY public.procrastinate_events (id, job_id, type, at) FROM stdin;
\.
COPY public.procrastinate_jobs (id, queue_name, task_name, lock, args, status, scheduled_at, attempts, queueing_lock, priority, abort_requested, worker_id) FROM stdin;
\.
COPY public.procrastinate_periodic_defers (id, task_name, defer_timestamp, job_id, periodic_id) FROM stdin;
\.
COPY public.procrastinate_workers (id, last_heartbeat) FROM stdin;
\.
COPY public.school_aerodrome (id, ident, name, elevation_ft, circuit_height_ft, variation_deg) FROM stdin;
1	ZZZX	Test Field	10	1000	0.0
\.
COPY public.school_aircraft (id, registration, in_service, type_id) FROM stdin;
1	QQ-XXA	t	1
\.
COPY public.school_aircrafttype (id, code, name, tailwheel, retractable, constant_speed_propeller, stall_landing_kt, stall_clean_kt, demonstrated_crosswind_kt) FROM stdin;
1	sandling-2	Sandling 2	t	t	t	52	58	12
\.
COPY public.school_journalentry (id, at, person_id, person_name, what, subject_kind, subject_id, subject_label, before, after, about_id) FROM stdin;
1	2025-11-23 00:00:00+00	\N	the system	person added	school.person	1	Amelia Example	\N	{"born": null, "name": "Amelia Example", "roles": ["chief", "instructor"], "reference": "T-1"}	1
2	2025-11-23 00:00:00+00	\N	the system	paper recorded	school.paper	1	flight instructor certificate of Amelia Example	\N	{"kind": "instructor_certificate", "class": "", "issued": "2025-11-23", "number": "C-1", "expires": null}	1
3	2025-11-23 00:00:00+00	\N	the system	person added	school.person	2	Bert Example	\N	{"born": null, "name": "Bert Example", "roles": ["instructor"], "reference": "T-2"}	2
4	2025-11-23 00:00:00+00	\N	the system	paper recorded	school.paper	2	flight instructor certificate of Bert Example	\N	{"kind": "instructor_certificate", "class": "", "issued": "2025-11-23", "number": "C-2", "expires": null}	2
5	2025-11-23 00:00:00+00	\N	the system	person added	school.person	3	Cleo Example	\N	{"born": null, "name": "Cleo Example", "roles": ["instructor"], "reference": "T-3"}	3
6	2025-11-23 00:00:00+00	\N	the system	paper recorded	school.paper	3	flight instructor certificate of Cleo Example	\N	{"kind": "instructor_certificate", "class": "", "issued": "2025-11-23", "number": "C-3", "expires": null}	3
7	2025-11-23 00:00:00+00	\N	the system	person added	school.person	4	Dora Example	\N	{"born": "2000-05-05", "name": "Dora Example", "roles": ["student"], "reference": "T-4"}	4
8	2025-11-23 00:00:00+00	\N	the system	person added	school.person	5	Emil Example	\N	{"born": "2001-06-06", "name": "Emil Example", "roles": ["student"], "reference": "T-5"}	5
9	2025-11-23 00:00:00+00	\N	the system	person added	school.person	6	Frida Example	\N	{"born": null, "name": "Frida Example", "roles": ["admin"], "reference": "T-6"}	6
10	2025-11-23 00:00:00+00	6	Frida Example	enrolled	lessons.enrolment	1	Dora Example, To first solo, issue 1	\N	{"on": "2025-11-23", "type": "Sandling 2", "syllabus": "To first solo, issue 1", "instructor": "Bert Example"}	4
11	2025-11-23 00:00:00+00	6	Frida Example	enrolled	lessons.enrolment	2	Emil Example, To first solo, issue 1	\N	{"on": "2025-11-23", "type": "Sandling 2", "syllabus": "To first solo, issue 1", "instructor": "Bert Example"}	5
12	2026-06-08 09:00:00+00	2	Bert Example	lesson begun	lessons.lesson	1	Lesson 1 of Dora Example	\N	{"on": "2026-06-08", "unit": "Unit 8: First circuits"}	4
13	2026-06-08 11:00:00+00	2	Bert Example	lesson signed	lessons.lesson	1	Lesson 1 of Dora Example	\N	{"meaning": "I gave this training on this day, and what is recorded here is what I saw."}	4
14	2026-06-10 09:00:00+00	2	Bert Example	lesson begun	lessons.lesson	2	Lesson 2 of Dora Example	\N	{"on": "2026-06-10", "unit": "Unit 8: First circuits"}	4
15	2026-06-10 11:00:00+00	2	Bert Example	lesson signed	lessons.lesson	2	Lesson 2 of Dora Example	\N	{"meaning": "I gave this training on this day, and what is recorded here is what I saw."}	4
\.
COPY public.school_paper (id, kind, number, medical_class, issued, expires, recent_experience_until, recorded_at, voided_at, void_reason, person_id, recorded_by_id, voided_by_id) FROM stdin;
1	instructor_certificate	C-1		2025-11-23	\N	2027-10-24	2025-11-23 00:00:00+00	\N		1	1	\N
2	instructor_certificate	C-2		2025-11-23	\N	2027-10-24	2025-11-23 00:00:00+00	\N		2	2	\N
3	instructor_certificate	C-3		2025-11-23	\N	2027-10-24	2025-11-23 00:00:00+00	\N		3	3	\N
\.
COPY public.school_person (id, password, last_login, username, email, given_name, family_name, reference, born, roles, is_active) FROM stdin;
1	argon2$argon2id$v=19$m=102400,t=2,p=8$MmZ5bTZoQ1I4Zko3S1k2SlY1bTZDMA$TiWgasUsWXCeGEWfDdM4euRo4kDg3SX80Wne7OVIHTg	\N	amelia		Amelia	Example	T-1	\N	{chief,instructor}	t
2	argon2$argon2id$v=19$m=102400,t=2,p=8$ODZVdVRraFVTbW9ncXE3NXZ3Q1RoRQ$mGZv33qlNW0LiVB4wNM+HM9SQIwxtM6gsV+/RVPiUcU	\N	bert		Bert	Example	T-2	\N	{instructor}	t
3	argon2$argon2id$v=19$m=102400,t=2,p=8$aE9ocmxaNkx5RDZ1Mm1ycmE2NmFtUg$ldzxec4TWV+TMn6PdFGZLHQfyL53yeW+6/WYHkCXqLk	\N	cleo		Cleo	Example	T-3	\N	{instructor}	t
4	argon2$argon2id$v=19$m=102400,t=2,p=8$NlBOREdwTlVOVlNNNkNZWVRnM1hrSw$Yaegiw0EN8JmALRhL/M4OiBRAtk7ZKmMyg4iYEec7MU	\N	dora		Dora	Example	T-4	2000-05-05	{student}	t
5	argon2$argon2id$v=19$m=102400,t=2,p=8$Vkl1eTZjaEJ5eDBrWHRvU0RwSEluTw$e1FXqcwpcLCTKmtX2r2/e25VPZXLh9HHepjzMK4jD6I	\N	emil		Emil	Example	T-5	2001-06-06	{student}	t
6	argon2$argon2id$v=19$m=102400,t=2,p=8$Y05VY2RqZFpQbmxnRXFzMmN5RnV0bA$1UYa0U0W80jMMc3kOigk967j9K7zArCg0a174pPVv/Q	\N	frida		Frida	Example	T-6	\N	{admin}	t
\.
COPY public.school_runway (id, designator, heading_magnetic, length_ft, circuit, aerodrome_id) FROM stdin;
1	18	180	3000	left	1
\.
COPY public.school_school (id, name, rule_set, paper, retention_years, aerodrome_id, length_unit, speed_unit, chief_countersigns) FROM stdin;
1	School of the Tests	us	A4	5	1	ft	kt	t
\.
SELECT pg_catalog.setval('public.auth_group_id_seq', 1, false);
SELECT pg_catalog.setval('public.auth_group_permissions_id_seq', 1, false);
SELECT pg_catalog.setval('public.auth_permission_id_seq', 200, true);
SELECT pg_catalog.setval('public.django_content_type_id_seq', 50, true);
SELECT pg_catalog.setval('public.django_migrations_id_seq', 77, true);
SELECT pg_catalog.setval('public.grading_attempt_id_seq', 12, true);
SELECT pg_catalog.setval('public.grading_criterionseen_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_faultseen_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_grade_id_seq', 6, true);
SELECT pg_catalog.setval('public.grading_measure_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_progresssheet_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_release_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_setaside_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_signature_id_seq', 2, true);
SELECT pg_catalog.setval('public.grading_standard_id_seq', 2, true);
SELECT pg_catalog.setval('public.grading_storedverdict_id_seq', 1, false);
SELECT pg_catalog.setval('public.grading_tap_id_seq', 18, true);
SELECT pg_catalog.setval('public.lessons_circuit_id_seq', 4, true);
SELECT pg_catalog.setval('public.lessons_criterion_id_seq', 114, true);
SELECT pg_catalog.setval('public.lessons_endorsement_id_seq', 1, false);
SELECT pg_catalog.setval('public.lessons_enrolment_id_seq', 2, true);
SELECT pg_catalog.setval('public.lessons_fault_id_seq', 58, true);
SELECT pg_catalog.setval('public.lessons_fault_manoeuvres_id_seq', 78, true);
SELECT pg_catalog.setval('public.lessons_gate_id_seq', 14, true);
SELECT pg_catalog.setval('public.lessons_gatedraft_id_seq', 1, false);
SELECT pg_catalog.setval('public.lessons_gateset_id_seq', 1, true);
SELECT pg_catalog.setval('public.lessons_gatetarget_id_seq', 23, true);
SELECT pg_catalog.setval('public.lessons_gradescale_id_seq', 3, true);
SELECT pg_catalog.setval('public.lessons_knowledgetest_id_seq', 1, false);
SELECT pg_catalog.setval('public.lessons_lesson_id_seq', 2, true);
SELECT pg_catalog.setval('public.lessons_manoeuvre_id_seq', 29, true);
SELECT pg_catalog.setval('public.lessons_stage_id_seq', 3, true);
SELECT pg_catalog.setval('public.lessons_syllabus_id_seq', 1, true);
SELECT pg_catalog.setval('public.lessons_syllabusdraft_id_seq', 1, false);
SELECT pg_catalog.setval('public.lessons_syllabusmove_id_seq', 1, false);
SELECT pg_catalog.setval('public.lessons_trainingitem_id_seq', 15, true);
SELECT pg_catalog.setval('public.lessons_unit_id_seq', 18, true);
SELECT pg_catalog.setval('public.lessons_unitmanoeuvre_id_seq', 107, true);
SELECT pg_catalog.setval('public.lessons_unitmapping_id_seq', 1, false);
SELECT pg_catalog.setval('public.procrastinate_events_id_seq', 1, false);
SELECT pg_catalog.setval('public.procrastinate_jobs_id_seq', 1, false);
SELECT pg_catalog.setval('public.procrastinate_periodic_defers_id_seq', 1, false);
SELECT pg_catalog.setval('public.procrastinate_workers_id_seq', 1, false);
SELECT pg_catalog.setval('public.school_aerodrome_id_seq', 1, true);
SELECT pg_catalog.setval('public.school_aircraft_id_seq', 1, true);
SELECT pg_catalog.setval('public.school_aircrafttype_id_seq', 1, true);
SELECT pg_catalog.setval('public.school_journalentry_id_seq', 15, true);
SELECT pg_catalog.setval('public.school_paper_id_seq', 3, true);
SELECT pg_catalog.setval('public.school_person_id_seq', 6, true);
SELECT pg_catalog.setval('public.school_runway_id_seq', 1, true);
SELECT pg_catalog.setval('public.school_school_id_seq', 1, false);
ALTER TABLE ONLY public.auth_group
    ADD CONSTRAINT auth_group_name_key UNIQUE (name);
ALTER TABLE ONLY public.auth_group_permissions
    ADD CONSTRAINT auth_group_permissions_group_id_permission_id_0cd325b0_uniq UNIQUE (group_id, permission_id);
ALTER TABLE ONLY public.auth_group_permissions
    ADD CONSTRAINT auth_group_permissions_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.auth_group
    ADD CONSTRAINT auth_group_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.auth_permission
    ADD CONSTRAINT auth_permission_content_type_id_codename_01ab375a_uniq UNIQUE (content_type_id, codename);
ALTER TABLE ONLY public.auth_permission
    ADD CONSTRAINT auth_permission_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_circuit
    ADD CONSTRAINT circuit_number_unique UNIQUE (lesson_id, number);
ALTER TABLE ONLY public.lessons_criterion
    ADD CONSTRAINT criterion_unique UNIQUE (manoeuvre_id, code);
ALTER TABLE ONLY public.grading_criterionseen
    ADD CONSTRAINT criterionseen_unique UNIQUE (attempt_id, criterion_id);
ALTER TABLE ONLY public.django_content_type
    ADD CONSTRAINT django_content_type_app_label_model_76bd3d3b_uniq UNIQUE (app_label, model);
ALTER TABLE ONLY public.django_content_type
    ADD CONSTRAINT django_content_type_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.django_migrations
    ADD CONSTRAINT django_migrations_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.django_session
    ADD CONSTRAINT django_session_pkey PRIMARY KEY (session_key);
ALTER TABLE ONLY public.lessons_fault
    ADD CONSTRAINT fault_unique UNIQUE (syllabus_id, code);
ALTER TABLE ONLY public.grading_faultseen
    ADD CONSTRAINT faultseen_unique UNIQUE (attempt_id, fault_id);
ALTER TABLE ONLY public.lessons_gate
    ADD CONSTRAINT gate_order_unique UNIQUE (gate_set_id, "order");
ALTER TABLE ONLY public.lessons_gate
    ADD CONSTRAINT gate_unique UNIQUE (gate_set_id, code);
ALTER TABLE ONLY public.lessons_gateset
    ADD CONSTRAINT gateset_day_unique UNIQUE (aircraft_type_id, valid_from);
ALTER TABLE ONLY public.lessons_gateset
    ADD CONSTRAINT gateset_issue_unique UNIQUE (aircraft_type_id, issue);
ALTER TABLE ONLY public.lessons_gatetarget
    ADD CONSTRAINT gatetarget_unique UNIQUE (gate_id, quantity);
ALTER TABLE ONLY public.grading_grade
    ADD CONSTRAINT grade_unique UNIQUE (lesson_id, manoeuvre_id);
ALTER TABLE ONLY public.lessons_gradescale
    ADD CONSTRAINT gradescale_issue_unique UNIQUE (code, issue);
ALTER TABLE ONLY public.grading_attempt
    ADD CONSTRAINT grading_attempt_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_criterionseen
    ADD CONSTRAINT grading_criterionseen_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_faultseen
    ADD CONSTRAINT grading_faultseen_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_grade
    ADD CONSTRAINT grading_grade_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_measure
    ADD CONSTRAINT grading_measure_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT grading_progresssheet_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT grading_progresssheet_uid_key UNIQUE (uid);
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_uid_key UNIQUE (uid);
ALTER TABLE ONLY public.grading_seal
    ADD CONSTRAINT grading_seal_digest_key UNIQUE (digest);
ALTER TABLE ONLY public.grading_seal
    ADD CONSTRAINT grading_seal_pkey PRIMARY KEY (number);
ALTER TABLE ONLY public.grading_setaside
    ADD CONSTRAINT grading_setaside_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_uid_key UNIQUE (uid);
ALTER TABLE ONLY public.grading_standard
    ADD CONSTRAINT grading_standard_key_key UNIQUE (key);
ALTER TABLE ONLY public.grading_standard
    ADD CONSTRAINT grading_standard_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_storedverdict
    ADD CONSTRAINT grading_storedverdict_enrolment_id_key UNIQUE (enrolment_id);
ALTER TABLE ONLY public.grading_storedverdict
    ADD CONSTRAINT grading_storedverdict_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_tap
    ADD CONSTRAINT grading_tap_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_tap
    ADD CONSTRAINT grading_tap_uid_key UNIQUE (uid);
ALTER TABLE ONLY public.grading_tap
    ADD CONSTRAINT grading_tap_undoes_id_key UNIQUE (undoes_id);
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lesson_number_unique UNIQUE (enrolment_id, number, version);
ALTER TABLE ONLY public.lessons_circuit
    ADD CONSTRAINT lessons_circuit_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_criterion
    ADD CONSTRAINT lessons_criterion_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_uid_1f66a6ac_uniq UNIQUE (uid);
ALTER TABLE ONLY public.lessons_enrolment
    ADD CONSTRAINT lessons_enrolment_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_enrolment
    ADD CONSTRAINT lessons_enrolment_uid_key UNIQUE (uid);
ALTER TABLE ONLY public.lessons_fault_manoeuvres
    ADD CONSTRAINT lessons_fault_manoeuvres_fault_id_manoeuvre_id_02c8046f_uniq UNIQUE (fault_id, manoeuvre_id);
ALTER TABLE ONLY public.lessons_fault_manoeuvres
    ADD CONSTRAINT lessons_fault_manoeuvres_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_fault
    ADD CONSTRAINT lessons_fault_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_gate
    ADD CONSTRAINT lessons_gate_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_gatedraft
    ADD CONSTRAINT lessons_gatedraft_aircraft_type_id_key UNIQUE (aircraft_type_id);
ALTER TABLE ONLY public.lessons_gatedraft
    ADD CONSTRAINT lessons_gatedraft_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_gateset
    ADD CONSTRAINT lessons_gateset_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_gatetarget
    ADD CONSTRAINT lessons_gatetarget_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_gradescale
    ADD CONSTRAINT lessons_gradescale_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetest_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetest_uid_b99d755b_uniq UNIQUE (uid);
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_supersedes_id_key UNIQUE (supersedes_id);
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_uid_key UNIQUE (uid);
ALTER TABLE ONLY public.lessons_manoeuvre
    ADD CONSTRAINT lessons_manoeuvre_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_stage
    ADD CONSTRAINT lessons_stage_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_syllabus
    ADD CONSTRAINT lessons_syllabus_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_syllabusdraft
    ADD CONSTRAINT lessons_syllabusdraft_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_syllabusmove
    ADD CONSTRAINT lessons_syllabusmove_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_trainingitem
    ADD CONSTRAINT lessons_trainingitem_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_unit
    ADD CONSTRAINT lessons_unit_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_unitmanoeuvre
    ADD CONSTRAINT lessons_unitmanoeuvre_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_unitmapping
    ADD CONSTRAINT lessons_unitmapping_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.lessons_manoeuvre
    ADD CONSTRAINT manoeuvre_unique UNIQUE (syllabus_id, code);
ALTER TABLE ONLY public.grading_measure
    ADD CONSTRAINT measure_unique UNIQUE (attempt_id, target_id);
ALTER TABLE ONLY public.procrastinate_events
    ADD CONSTRAINT procrastinate_events_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.procrastinate_jobs
    ADD CONSTRAINT procrastinate_jobs_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.procrastinate_periodic_defers
    ADD CONSTRAINT procrastinate_periodic_defers_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.procrastinate_periodic_defers
    ADD CONSTRAINT procrastinate_periodic_defers_unique UNIQUE (task_name, periodic_id, defer_timestamp);
ALTER TABLE ONLY public.procrastinate_workers
    ADD CONSTRAINT procrastinate_workers_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_runway
    ADD CONSTRAINT runway_unique UNIQUE (aerodrome_id, designator);
ALTER TABLE ONLY public.school_aerodrome
    ADD CONSTRAINT school_aerodrome_ident_key UNIQUE (ident);
ALTER TABLE ONLY public.school_aerodrome
    ADD CONSTRAINT school_aerodrome_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_aircraft
    ADD CONSTRAINT school_aircraft_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_aircraft
    ADD CONSTRAINT school_aircraft_registration_key UNIQUE (registration);
ALTER TABLE ONLY public.school_aircrafttype
    ADD CONSTRAINT school_aircrafttype_code_key UNIQUE (code);
ALTER TABLE ONLY public.school_aircrafttype
    ADD CONSTRAINT school_aircrafttype_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_journalentry
    ADD CONSTRAINT school_journalentry_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_paper
    ADD CONSTRAINT school_paper_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_person
    ADD CONSTRAINT school_person_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_person
    ADD CONSTRAINT school_person_reference_key UNIQUE (reference);
ALTER TABLE ONLY public.school_person
    ADD CONSTRAINT school_person_username_key UNIQUE (username);
ALTER TABLE ONLY public.school_runway
    ADD CONSTRAINT school_runway_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.school_school
    ADD CONSTRAINT school_school_pkey PRIMARY KEY (id);
ALTER TABLE ONLY public.grading_seal
    ADD CONSTRAINT seal_once UNIQUE (kind, subject);
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT sheet_of_instructor_unique UNIQUE (instructor_id, kind, number);
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT sheet_of_student_unique UNIQUE (enrolment_id, kind, number);
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT signature_end_once UNIQUE (enrolment_id);
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT signature_endorsement_once UNIQUE (endorsement_id);
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT signature_lesson_once UNIQUE (lesson_id, capacity);
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT signature_release_once UNIQUE (release_id, capacity);
ALTER TABLE ONLY public.lessons_stage
    ADD CONSTRAINT stage_unique UNIQUE (syllabus_id, number);
ALTER TABLE ONLY public.grading_standard
    ADD CONSTRAINT standard_day_unique UNIQUE (rule_set, valid_from);
ALTER TABLE ONLY public.lessons_syllabus
    ADD CONSTRAINT syllabus_issue_unique UNIQUE (code, issue);
ALTER TABLE ONLY public.lessons_syllabusdraft
    ADD CONSTRAINT syllabusdraft_issue_unique UNIQUE (code, issue);
ALTER TABLE ONLY public.lessons_trainingitem
    ADD CONSTRAINT trainingitem_unique UNIQUE (syllabus_id, code);
ALTER TABLE ONLY public.lessons_unit
    ADD CONSTRAINT unit_unique UNIQUE (stage_id, number);
ALTER TABLE ONLY public.lessons_unitmanoeuvre
    ADD CONSTRAINT unitmanoeuvre_unique UNIQUE (unit_id, manoeuvre_id);
ALTER TABLE ONLY public.lessons_unitmapping
    ADD CONSTRAINT unitmapping_unique UNIQUE (move_id, old_id);
CREATE INDEX attempt_lesson ON public.grading_attempt USING btree (lesson_id);
CREATE UNIQUE INDEX attempt_ordinal_unique ON public.grading_attempt USING btree (lesson_id, manoeuvre_id, ordinal) WHERE (circuit_id IS NULL);
CREATE UNIQUE INDEX attempt_part_unique ON public.grading_attempt USING btree (circuit_id, part) WHERE (circuit_id IS NOT NULL);
CREATE INDEX auth_group_name_a6ea08ec_like ON public.auth_group USING btree (name varchar_pattern_ops);
CREATE INDEX auth_group_permissions_group_id_b120cbf9 ON public.auth_group_permissions USING btree (group_id);
CREATE INDEX auth_group_permissions_permission_id_84c5c92e ON public.auth_group_permissions USING btree (permission_id);
CREATE INDEX auth_permission_content_type_id_2f476e4b ON public.auth_permission USING btree (content_type_id);
CREATE INDEX django_session_expire_date_a5c62663 ON public.django_session USING btree (expire_date);
CREATE INDEX django_session_session_key_c0390e0f_like ON public.django_session USING btree (session_key varchar_pattern_ops);
CREATE UNIQUE INDEX enrolment_one_at_a_time ON public.lessons_enrolment USING btree (student_id, syllabus_id) WHERE (ended_on IS NULL);
CREATE INDEX grading_attempt_circuit_id_f89e8cfa ON public.grading_attempt USING btree (circuit_id);
CREATE INDEX grading_attempt_lesson_id_af69993e ON public.grading_attempt USING btree (lesson_id);
CREATE INDEX grading_attempt_manoeuvre_id_2d5d01f3 ON public.grading_attempt USING btree (manoeuvre_id);
CREATE INDEX grading_criterionseen_attempt_id_4e4efab3 ON public.grading_criterionseen USING btree (attempt_id);
CREATE INDEX grading_criterionseen_criterion_id_22510090 ON public.grading_criterionseen USING btree (criterion_id);
CREATE INDEX grading_faultseen_attempt_id_8f425e30 ON public.grading_faultseen USING btree (attempt_id);
CREATE INDEX grading_faultseen_fault_id_0e22022a ON public.grading_faultseen USING btree (fault_id);
CREATE INDEX grading_grade_lesson_id_54824af0 ON public.grading_grade USING btree (lesson_id);
CREATE INDEX grading_grade_manoeuvre_id_11992203 ON public.grading_grade USING btree (manoeuvre_id);
CREATE INDEX grading_measure_attempt_id_9d73567b ON public.grading_measure USING btree (attempt_id);
CREATE INDEX grading_measure_target_id_7609694b ON public.grading_measure USING btree (target_id);
CREATE INDEX grading_progresssheet_enrolment_id_1aaf1b35 ON public.grading_sheet USING btree (enrolment_id);
CREATE INDEX grading_progresssheet_printed_by_id_78fc875f ON public.grading_sheet USING btree (printed_by_id);
CREATE INDEX grading_release_aerodrome_id_0d9ab771 ON public.grading_release USING btree (aerodrome_id);
CREATE INDEX grading_release_aircraft_type_id_01fcc101 ON public.grading_release USING btree (aircraft_type_id);
CREATE INDEX grading_release_decided_by_id_4370929c ON public.grading_release USING btree (decided_by_id);
CREATE INDEX grading_release_endorsed_by_id_7e338c9f ON public.grading_release USING btree (endorsed_by_id);
CREATE INDEX grading_release_enrolment_id_3dfa172a ON public.grading_release USING btree (enrolment_id);
CREATE INDEX grading_release_withdrawn_by_id_682a7e0f ON public.grading_release USING btree (withdrawn_by_id);
CREATE INDEX grading_seal_digest_d03477e5_like ON public.grading_seal USING btree (digest varchar_pattern_ops);
CREATE INDEX grading_setaside_decided_by_id_b241a96e ON public.grading_setaside USING btree (decided_by_id);
CREATE INDEX grading_setaside_enrolment_id_b15e2c7b ON public.grading_setaside USING btree (enrolment_id);
CREATE INDEX grading_setaside_requirement_8c3fed31 ON public.grading_setaside USING btree (requirement);
CREATE INDEX grading_setaside_requirement_8c3fed31_like ON public.grading_setaside USING btree (requirement varchar_pattern_ops);
CREATE INDEX grading_setaside_withdrawn_by_id_7bc0d011 ON public.grading_setaside USING btree (withdrawn_by_id);
CREATE INDEX grading_sheet_instructor_id_b9162819 ON public.grading_sheet USING btree (instructor_id);
CREATE INDEX grading_signature_endorsement_id_7190b8df ON public.grading_signature USING btree (endorsement_id);
CREATE INDEX grading_signature_enrolment_id_bcd0e825 ON public.grading_signature USING btree (enrolment_id);
CREATE INDEX grading_signature_lesson_id_8cdd0a33 ON public.grading_signature USING btree (lesson_id);
CREATE INDEX grading_signature_person_id_5361972c ON public.grading_signature USING btree (person_id);
CREATE INDEX grading_signature_release_id_2bd14c7c ON public.grading_signature USING btree (release_id);
CREATE INDEX grading_standard_key_0a024ab0_like ON public.grading_standard USING btree (key varchar_pattern_ops);
CREATE INDEX grading_tap_lesson_id_8c82193d ON public.grading_tap USING btree (lesson_id);
CREATE INDEX grading_tap_person_id_12a5d5fe ON public.grading_tap USING btree (person_id);
CREATE INDEX idx_procrastinate_jobs_worker_not_null ON public.procrastinate_jobs USING btree (worker_id) WHERE ((worker_id IS NOT NULL) AND (status = 'doing'::public.procrastinate_job_status));
CREATE INDEX idx_procrastinate_workers_last_heartbeat ON public.procrastinate_workers USING btree (last_heartbeat);
CREATE INDEX journal_about ON public.school_journalentry USING btree (about_id, at);
CREATE INDEX journal_at ON public.school_journalentry USING btree (at);
CREATE INDEX journal_person ON public.school_journalentry USING btree (person_id, at);
CREATE INDEX journal_subject ON public.school_journalentry USING btree (subject_kind, subject_id);
CREATE INDEX journal_what ON public.school_journalentry USING btree (what, at);
CREATE INDEX lesson_enrolment_on ON public.lessons_lesson USING btree (enrolment_id, "on");
CREATE INDEX lesson_instructor_on ON public.lessons_lesson USING btree (instructor_id, "on");
CREATE INDEX lessons_circuit_lesson_id_bdeb7a3d ON public.lessons_circuit USING btree (lesson_id);
CREATE INDEX lessons_criterion_code_12c5221a ON public.lessons_criterion USING btree (code);
CREATE INDEX lessons_criterion_code_12c5221a_like ON public.lessons_criterion USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_criterion_gate_e4227fb2 ON public.lessons_criterion USING btree (gate);
CREATE INDEX lessons_criterion_gate_e4227fb2_like ON public.lessons_criterion USING btree (gate varchar_pattern_ops);
CREATE INDEX lessons_criterion_manoeuvre_id_e7a6c430 ON public.lessons_criterion USING btree (manoeuvre_id);
CREATE INDEX lessons_endorsement_aircraft_type_id_519f182a ON public.lessons_endorsement USING btree (aircraft_type_id);
CREATE INDEX lessons_endorsement_enrolment_id_9e6cda5c ON public.lessons_endorsement USING btree (enrolment_id);
CREATE INDEX lessons_endorsement_given_by_id_bcdbd86c ON public.lessons_endorsement USING btree (given_by_id);
CREATE INDEX lessons_endorsement_recorded_by_id_08f4a2d5 ON public.lessons_endorsement USING btree (recorded_by_id);
CREATE INDEX lessons_endorsement_withdrawn_by_id_45027fa8 ON public.lessons_endorsement USING btree (withdrawn_by_id);
CREATE INDEX lessons_enrolment_aircraft_type_id_4ba3fce2 ON public.lessons_enrolment USING btree (aircraft_type_id);
CREATE INDEX lessons_enrolment_instructor_id_5d3dd6b5 ON public.lessons_enrolment USING btree (instructor_id);
CREATE INDEX lessons_enrolment_student_id_e1b3920a ON public.lessons_enrolment USING btree (student_id);
CREATE INDEX lessons_enrolment_syllabus_id_bc16c179 ON public.lessons_enrolment USING btree (syllabus_id);
CREATE INDEX lessons_fault_code_cf3f40b3 ON public.lessons_fault USING btree (code);
CREATE INDEX lessons_fault_code_cf3f40b3_like ON public.lessons_fault USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_fault_manoeuvres_fault_id_b64c1d65 ON public.lessons_fault_manoeuvres USING btree (fault_id);
CREATE INDEX lessons_fault_manoeuvres_manoeuvre_id_7a44d707 ON public.lessons_fault_manoeuvres USING btree (manoeuvre_id);
CREATE INDEX lessons_fault_syllabus_id_b2266803 ON public.lessons_fault USING btree (syllabus_id);
CREATE INDEX lessons_gate_code_b9fb31f7 ON public.lessons_gate USING btree (code);
CREATE INDEX lessons_gate_code_b9fb31f7_like ON public.lessons_gate USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_gate_gate_set_id_670c41b5 ON public.lessons_gate USING btree (gate_set_id);
CREATE INDEX lessons_gatedraft_edited_by_id_0f4e0aec ON public.lessons_gatedraft USING btree (edited_by_id);
CREATE INDEX lessons_gateset_aircraft_type_id_5565a9b8 ON public.lessons_gateset USING btree (aircraft_type_id);
CREATE INDEX lessons_gatetarget_gate_id_c95ebbda ON public.lessons_gatetarget USING btree (gate_id);
CREATE INDEX lessons_gradescale_code_45b55c18 ON public.lessons_gradescale USING btree (code);
CREATE INDEX lessons_gradescale_code_45b55c18_like ON public.lessons_gradescale USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_knowledgetest_aircraft_type_id_80dac224 ON public.lessons_knowledgetest USING btree (aircraft_type_id);
CREATE INDEX lessons_knowledgetest_enrolment_id_e766310a ON public.lessons_knowledgetest USING btree (enrolment_id);
CREATE INDEX lessons_knowledgetest_given_by_id_c1eacd30 ON public.lessons_knowledgetest USING btree (given_by_id);
CREATE INDEX lessons_knowledgetest_recorded_by_id_a99b158c ON public.lessons_knowledgetest USING btree (recorded_by_id);
CREATE INDEX lessons_knowledgetest_unit_id_61ff8433 ON public.lessons_knowledgetest USING btree (unit_id);
CREATE INDEX lessons_lesson_aircraft_id_f6bb97ab ON public.lessons_lesson USING btree (aircraft_id);
CREATE INDEX lessons_lesson_begun_by_id_5487556f ON public.lessons_lesson USING btree (begun_by_id);
CREATE INDEX lessons_lesson_enrolment_id_4ccc90f2 ON public.lessons_lesson USING btree (enrolment_id);
CREATE INDEX lessons_lesson_instructor_id_de2c951e ON public.lessons_lesson USING btree (instructor_id);
CREATE INDEX lessons_lesson_runway_id_cc072ecd ON public.lessons_lesson USING btree (runway_id);
CREATE INDEX lessons_lesson_signed_by_id_6ec0b27e ON public.lessons_lesson USING btree (signed_by_id);
CREATE INDEX lessons_lesson_unit_id_ee8532f8 ON public.lessons_lesson USING btree (unit_id);
CREATE INDEX lessons_manoeuvre_code_96e6fac7 ON public.lessons_manoeuvre USING btree (code);
CREATE INDEX lessons_manoeuvre_code_96e6fac7_like ON public.lessons_manoeuvre USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_manoeuvre_syllabus_id_4063870a ON public.lessons_manoeuvre USING btree (syllabus_id);
CREATE INDEX lessons_stage_syllabus_id_04b8dad2 ON public.lessons_stage USING btree (syllabus_id);
CREATE INDEX lessons_syllabus_code_7675e884 ON public.lessons_syllabus USING btree (code);
CREATE INDEX lessons_syllabus_code_7675e884_like ON public.lessons_syllabus USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_syllabus_scale_id_48b06ee0 ON public.lessons_syllabus USING btree (scale_id);
CREATE INDEX lessons_syllabusdraft_based_on_id_b7e7891a ON public.lessons_syllabusdraft USING btree (based_on_id);
CREATE INDEX lessons_syllabusdraft_code_e6900a43 ON public.lessons_syllabusdraft USING btree (code);
CREATE INDEX lessons_syllabusdraft_code_e6900a43_like ON public.lessons_syllabusdraft USING btree (code varchar_pattern_ops);
CREATE INDEX lessons_syllabusdraft_edited_by_id_b03048a5 ON public.lessons_syllabusdraft USING btree (edited_by_id);
CREATE INDEX lessons_syllabusmove_after_id_1be6e176 ON public.lessons_syllabusmove USING btree (after_id);
CREATE INDEX lessons_syllabusmove_before_id_db5495c6 ON public.lessons_syllabusmove USING btree (before_id);
CREATE INDEX lessons_syllabusmove_enrolment_id_f9799a3e ON public.lessons_syllabusmove USING btree (enrolment_id);
CREATE INDEX lessons_syllabusmove_moved_by_id_a23adea5 ON public.lessons_syllabusmove USING btree (moved_by_id);
CREATE INDEX lessons_trainingitem_syllabus_id_59c734ef ON public.lessons_trainingitem USING btree (syllabus_id);
CREATE INDEX lessons_unit_stage_id_94ccb2a4 ON public.lessons_unit USING btree (stage_id);
CREATE INDEX lessons_unitmanoeuvre_manoeuvre_id_6ace0199 ON public.lessons_unitmanoeuvre USING btree (manoeuvre_id);
CREATE INDEX lessons_unitmanoeuvre_unit_id_ec2898f2 ON public.lessons_unitmanoeuvre USING btree (unit_id);
CREATE INDEX lessons_unitmapping_move_id_58922ca9 ON public.lessons_unitmapping USING btree (move_id);
CREATE INDEX lessons_unitmapping_new_id_c45e0f09 ON public.lessons_unitmapping USING btree (new_id);
CREATE INDEX lessons_unitmapping_old_id_7cf51278 ON public.lessons_unitmapping USING btree (old_id);
CREATE INDEX paper_person ON public.school_paper USING btree (person_id, kind);
CREATE INDEX person_roles ON public.school_person USING gin (roles);
CREATE UNIQUE INDEX person_username_unique ON public.school_person USING btree (lower((username)::text));
CREATE INDEX procrastinate_events_job_id_fkey_v1 ON public.procrastinate_events USING btree (job_id);
CREATE INDEX procrastinate_jobs_id_lock_idx_v1 ON public.procrastinate_jobs USING btree (id, lock) WHERE (status = ANY (ARRAY['todo'::public.procrastinate_job_status, 'doing'::public.procrastinate_job_status]));
CREATE UNIQUE INDEX procrastinate_jobs_lock_idx_v1 ON public.procrastinate_jobs USING btree (lock) WHERE (status = 'doing'::public.procrastinate_job_status);
CREATE INDEX procrastinate_jobs_priority_idx_v1 ON public.procrastinate_jobs USING btree (priority DESC, id) WHERE (status = 'todo'::public.procrastinate_job_status);
CREATE INDEX procrastinate_jobs_queue_name_idx_v1 ON public.procrastinate_jobs USING btree (queue_name);
CREATE UNIQUE INDEX procrastinate_jobs_queueing_lock_idx_v1 ON public.procrastinate_jobs USING btree (queueing_lock) WHERE (status = 'todo'::public.procrastinate_job_status);
CREATE INDEX procrastinate_periodic_defers_job_id_fkey_v1 ON public.procrastinate_periodic_defers USING btree (job_id);
CREATE INDEX release_enrolment ON public.grading_release USING btree (enrolment_id, valid_until);
CREATE INDEX school_aerodrome_ident_46504261_like ON public.school_aerodrome USING btree (ident varchar_pattern_ops);
CREATE INDEX school_aircraft_registration_4aefe374_like ON public.school_aircraft USING btree (registration varchar_pattern_ops);
CREATE INDEX school_aircraft_type_id_5dedbe36 ON public.school_aircraft USING btree (type_id);
CREATE INDEX school_aircrafttype_code_692af724_like ON public.school_aircrafttype USING btree (code varchar_pattern_ops);
CREATE INDEX school_paper_person_id_4599ec6b ON public.school_paper USING btree (person_id);
CREATE INDEX school_paper_recorded_by_id_01d03f7d ON public.school_paper USING btree (recorded_by_id);
CREATE INDEX school_paper_voided_by_id_5c8d7b29 ON public.school_paper USING btree (voided_by_id);
CREATE INDEX school_person_reference_45a4cb9d_like ON public.school_person USING btree (reference varchar_pattern_ops);
CREATE INDEX school_person_username_73901c9c_like ON public.school_person USING btree (username varchar_pattern_ops);
CREATE INDEX school_runway_aerodrome_id_5c7bf3df ON public.school_runway USING btree (aerodrome_id);
CREATE INDEX school_school_aerodrome_id_0dc6d922 ON public.school_school USING btree (aerodrome_id);
CREATE UNIQUE INDEX setaside_once ON public.grading_setaside USING btree (enrolment_id, requirement) WHERE (withdrawn_at IS NULL);
CREATE INDEX tap_lesson ON public.grading_tap USING btree (lesson_id, id);
CREATE TRIGGER circuit_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_circuit FOR EACH ROW EXECUTE FUNCTION public.lesson_part_is_final();
CREATE TRIGGER circuit_is_kept BEFORE TRUNCATE ON public.lessons_circuit FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_attempt_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.grading_attempt FOR EACH ROW EXECUTE FUNCTION public.lesson_part_is_final();
CREATE TRIGGER grading_attempt_is_kept BEFORE TRUNCATE ON public.grading_attempt FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_criterionseen_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.grading_criterionseen FOR EACH ROW EXECUTE FUNCTION public.attempt_part_is_final();
CREATE TRIGGER grading_criterionseen_is_kept BEFORE TRUNCATE ON public.grading_criterionseen FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_faultseen_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.grading_faultseen FOR EACH ROW EXECUTE FUNCTION public.attempt_part_is_final();
CREATE TRIGGER grading_faultseen_is_kept BEFORE TRUNCATE ON public.grading_faultseen FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_grade_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.grading_grade FOR EACH ROW EXECUTE FUNCTION public.lesson_part_is_final();
CREATE TRIGGER grading_grade_is_kept BEFORE TRUNCATE ON public.grading_grade FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_measure_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.grading_measure FOR EACH ROW EXECUTE FUNCTION public.attempt_part_is_final();
CREATE TRIGGER grading_measure_is_kept BEFORE TRUNCATE ON public.grading_measure FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_progresssheet_is_final BEFORE DELETE OR UPDATE ON public.grading_sheet FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_progresssheet_is_kept BEFORE TRUNCATE ON public.grading_sheet FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_release_is_final BEFORE DELETE OR UPDATE ON public.grading_release FOR EACH ROW EXECUTE FUNCTION public.grading_release_withdrawn_once();
CREATE TRIGGER grading_release_is_kept BEFORE TRUNCATE ON public.grading_release FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_seal_is_final BEFORE DELETE OR UPDATE ON public.grading_seal FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_seal_is_kept BEFORE TRUNCATE ON public.grading_seal FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_setaside_is_final BEFORE DELETE OR UPDATE ON public.grading_setaside FOR EACH ROW EXECUTE FUNCTION public.grading_setaside_withdrawn_once();
CREATE TRIGGER grading_setaside_is_kept BEFORE TRUNCATE ON public.grading_setaside FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_signature_is_final BEFORE DELETE OR UPDATE ON public.grading_signature FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_signature_is_kept BEFORE TRUNCATE ON public.grading_signature FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_standard_is_final BEFORE DELETE OR UPDATE ON public.grading_standard FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_standard_is_kept BEFORE TRUNCATE ON public.grading_standard FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER grading_tap_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.grading_tap FOR EACH ROW EXECUTE FUNCTION public.lesson_part_is_final();
CREATE TRIGGER grading_tap_is_kept BEFORE TRUNCATE ON public.grading_tap FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER journal_is_final BEFORE DELETE OR UPDATE ON public.school_journalentry FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER journal_is_kept BEFORE TRUNCATE ON public.school_journalentry FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lesson_is_final BEFORE DELETE OR UPDATE ON public.lessons_lesson FOR EACH ROW WHEN ((old.signed_at IS NOT NULL)) EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lesson_is_kept BEFORE TRUNCATE ON public.lessons_lesson FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_criterion_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_criterion FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('manoeuvre_id', 'SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_manoeuvre m ON m.syllabus_id = s.id WHERE m.id = $1');
CREATE TRIGGER lessons_criterion_is_kept BEFORE TRUNCATE ON public.lessons_criterion FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_fault_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_fault FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('syllabus_id', 'SELECT published_on IS NOT NULL FROM lessons_syllabus WHERE id = $1');
CREATE TRIGGER lessons_fault_is_kept BEFORE TRUNCATE ON public.lessons_fault FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_fault_manoeuvres_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_fault_manoeuvres FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('manoeuvre_id', 'SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_manoeuvre m ON m.syllabus_id = s.id WHERE m.id = $1');
CREATE TRIGGER lessons_fault_manoeuvres_is_kept BEFORE TRUNCATE ON public.lessons_fault_manoeuvres FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_gate_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_gate FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('gate_set_id', 'SELECT published FROM lessons_gateset WHERE id = $1');
CREATE TRIGGER lessons_gate_is_kept BEFORE TRUNCATE ON public.lessons_gate FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_gateset_is_final BEFORE DELETE OR UPDATE ON public.lessons_gateset FOR EACH ROW WHEN (old.published) EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_gateset_is_kept BEFORE TRUNCATE ON public.lessons_gateset FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_gatetarget_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_gatetarget FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('gate_id', 'SELECT s.published FROM lessons_gateset s JOIN lessons_gate g ON g.gate_set_id = s.id WHERE g.id = $1');
CREATE TRIGGER lessons_gatetarget_is_kept BEFORE TRUNCATE ON public.lessons_gatetarget FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_gradescale_is_final BEFORE DELETE OR UPDATE ON public.lessons_gradescale FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_gradescale_is_kept BEFORE TRUNCATE ON public.lessons_gradescale FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_manoeuvre_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_manoeuvre FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('syllabus_id', 'SELECT published_on IS NOT NULL FROM lessons_syllabus WHERE id = $1');
CREATE TRIGGER lessons_manoeuvre_is_kept BEFORE TRUNCATE ON public.lessons_manoeuvre FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_stage_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_stage FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('syllabus_id', 'SELECT published_on IS NOT NULL FROM lessons_syllabus WHERE id = $1');
CREATE TRIGGER lessons_stage_is_kept BEFORE TRUNCATE ON public.lessons_stage FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_syllabus_is_final BEFORE DELETE OR UPDATE ON public.lessons_syllabus FOR EACH ROW WHEN ((old.published_on IS NOT NULL)) EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_syllabus_is_kept BEFORE TRUNCATE ON public.lessons_syllabus FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_syllabusmove_is_final BEFORE DELETE OR UPDATE ON public.lessons_syllabusmove FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_syllabusmove_is_kept BEFORE TRUNCATE ON public.lessons_syllabusmove FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_trainingitem_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_trainingitem FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('syllabus_id', 'SELECT published_on IS NOT NULL FROM lessons_syllabus WHERE id = $1');
CREATE TRIGGER lessons_trainingitem_is_kept BEFORE TRUNCATE ON public.lessons_trainingitem FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_unit_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_unit FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('stage_id', 'SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_stage g ON g.syllabus_id = s.id WHERE g.id = $1');
CREATE TRIGGER lessons_unit_is_kept BEFORE TRUNCATE ON public.lessons_unit FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_unitmanoeuvre_is_final BEFORE INSERT OR DELETE OR UPDATE ON public.lessons_unitmanoeuvre FOR EACH ROW EXECUTE FUNCTION public.published_part_is_final('unit_id', 'SELECT s.published_on IS NOT NULL FROM lessons_syllabus s JOIN lessons_stage g ON g.syllabus_id = s.id JOIN lessons_unit u ON u.stage_id = g.id WHERE u.id = $1');
CREATE TRIGGER lessons_unitmanoeuvre_is_kept BEFORE TRUNCATE ON public.lessons_unitmanoeuvre FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_unitmapping_is_final BEFORE DELETE OR UPDATE ON public.lessons_unitmapping FOR EACH ROW EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER lessons_unitmapping_is_kept BEFORE TRUNCATE ON public.lessons_unitmapping FOR EACH STATEMENT EXECUTE FUNCTION public.record_is_final();
CREATE TRIGGER procrastinate_jobs_notify_queue_job_aborted_v1 AFTER UPDATE OF abort_requested ON public.procrastinate_jobs FOR EACH ROW WHEN (((old.abort_requested = false) AND (new.abort_requested = true) AND (new.status = 'doing'::public.procrastinate_job_status))) EXECUTE FUNCTION public.procrastinate_notify_queue_abort_job_v1();
CREATE TRIGGER procrastinate_jobs_notify_queue_job_inserted_v1 AFTER INSERT ON public.procrastinate_jobs FOR EACH ROW WHEN ((new.status = 'todo'::public.procrastinate_job_status)) EXECUTE FUNCTION public.procrastinate_notify_queue_job_inserted_v1();
CREATE TRIGGER procrastinate_trigger_abort_requested_events_v1 AFTER UPDATE OF abort_requested ON public.procrastinate_jobs FOR EACH ROW WHEN ((new.abort_requested = true)) EXECUTE FUNCTION public.procrastinate_trigger_abort_requested_events_procedure_v1();
CREATE TRIGGER procrastinate_trigger_delete_jobs_v1 BEFORE DELETE ON public.procrastinate_jobs FOR EACH ROW EXECUTE FUNCTION public.procrastinate_unlink_periodic_defers_v1();
CREATE TRIGGER procrastinate_trigger_scheduled_events_v1 AFTER INSERT OR UPDATE ON public.procrastinate_jobs FOR EACH ROW WHEN (((new.scheduled_at IS NOT NULL) AND (new.status = 'todo'::public.procrastinate_job_status))) EXECUTE FUNCTION public.procrastinate_trigger_function_scheduled_events_v1();
CREATE TRIGGER procrastinate_trigger_status_events_insert_v1 AFTER INSERT ON public.procrastinate_jobs FOR EACH ROW WHEN ((new.status = 'todo'::public.procrastinate_job_status)) EXECUTE FUNCTION public.procrastinate_trigger_function_status_events_insert_v1();
CREATE TRIGGER procrastinate_trigger_status_events_update_v1 AFTER UPDATE OF status ON public.procrastinate_jobs FOR EACH ROW EXECUTE FUNCTION public.procrastinate_trigger_function_status_events_update_v1();
CREATE TRIGGER standard_keeps_the_law BEFORE INSERT ON public.grading_standard FOR EACH ROW EXECUTE FUNCTION public.standard_keeps_the_law();
ALTER TABLE ONLY public.auth_group_permissions
    ADD CONSTRAINT auth_group_permissio_permission_id_84c5c92e_fk_auth_perm FOREIGN KEY (permission_id) REFERENCES public.auth_permission(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.auth_group_permissions
    ADD CONSTRAINT auth_group_permissions_group_id_b120cbf9_fk_auth_group_id FOREIGN KEY (group_id) REFERENCES public.auth_group(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.auth_permission
    ADD CONSTRAINT auth_permission_content_type_id_2f476e4b_fk_django_co FOREIGN KEY (content_type_id) REFERENCES public.django_content_type(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_attempt
    ADD CONSTRAINT grading_attempt_circuit_id_f89e8cfa_fk_lessons_circuit_id FOREIGN KEY (circuit_id) REFERENCES public.lessons_circuit(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_attempt
    ADD CONSTRAINT grading_attempt_lesson_id_af69993e_fk_lessons_lesson_id FOREIGN KEY (lesson_id) REFERENCES public.lessons_lesson(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_attempt
    ADD CONSTRAINT grading_attempt_manoeuvre_id_2d5d01f3_fk_lessons_manoeuvre_id FOREIGN KEY (manoeuvre_id) REFERENCES public.lessons_manoeuvre(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_criterionseen
    ADD CONSTRAINT grading_criterionsee_criterion_id_22510090_fk_lessons_c FOREIGN KEY (criterion_id) REFERENCES public.lessons_criterion(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_criterionseen
    ADD CONSTRAINT grading_criterionseen_attempt_id_4e4efab3_fk_grading_attempt_id FOREIGN KEY (attempt_id) REFERENCES public.grading_attempt(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_faultseen
    ADD CONSTRAINT grading_faultseen_attempt_id_8f425e30_fk_grading_attempt_id FOREIGN KEY (attempt_id) REFERENCES public.grading_attempt(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_faultseen
    ADD CONSTRAINT grading_faultseen_fault_id_0e22022a_fk_lessons_fault_id FOREIGN KEY (fault_id) REFERENCES public.lessons_fault(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_grade
    ADD CONSTRAINT grading_grade_lesson_id_54824af0_fk_lessons_lesson_id FOREIGN KEY (lesson_id) REFERENCES public.lessons_lesson(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_grade
    ADD CONSTRAINT grading_grade_manoeuvre_id_11992203_fk_lessons_manoeuvre_id FOREIGN KEY (manoeuvre_id) REFERENCES public.lessons_manoeuvre(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_measure
    ADD CONSTRAINT grading_measure_attempt_id_9d73567b_fk_grading_attempt_id FOREIGN KEY (attempt_id) REFERENCES public.grading_attempt(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_measure
    ADD CONSTRAINT grading_measure_target_id_7609694b_fk_lessons_gatetarget_id FOREIGN KEY (target_id) REFERENCES public.lessons_gatetarget(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT grading_progressshee_printed_by_id_78fc875f_fk_school_pe FOREIGN KEY (printed_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_aerodrome_id_0d9ab771_fk_school_aerodrome_id FOREIGN KEY (aerodrome_id) REFERENCES public.school_aerodrome(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_aircraft_type_id_01fcc101_fk_school_ai FOREIGN KEY (aircraft_type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_decided_by_id_4370929c_fk_school_person_id FOREIGN KEY (decided_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_endorsed_by_id_7e338c9f_fk_school_person_id FOREIGN KEY (endorsed_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_enrolment_id_3dfa172a_fk_lessons_enrolment_id FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_release
    ADD CONSTRAINT grading_release_withdrawn_by_id_682a7e0f_fk_school_person_id FOREIGN KEY (withdrawn_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_setaside
    ADD CONSTRAINT grading_setaside_decided_by_id_b241a96e_fk_school_person_id FOREIGN KEY (decided_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_setaside
    ADD CONSTRAINT grading_setaside_enrolment_id_b15e2c7b_fk_lessons_enrolment_id FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_setaside
    ADD CONSTRAINT grading_setaside_withdrawn_by_id_7bc0d011_fk_school_person_id FOREIGN KEY (withdrawn_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT grading_sheet_enrolment_id_ab723d5f_fk_lessons_enrolment_id FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_sheet
    ADD CONSTRAINT grading_sheet_instructor_id_b9162819_fk_school_person_id FOREIGN KEY (instructor_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_endorsement_id_7190b8df_fk_lessons_e FOREIGN KEY (endorsement_id) REFERENCES public.lessons_endorsement(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_enrolment_id_bcd0e825_fk_lessons_enrolment_id FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_lesson_id_8cdd0a33_fk_lessons_lesson_id FOREIGN KEY (lesson_id) REFERENCES public.lessons_lesson(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_person_id_5361972c_fk_school_person_id FOREIGN KEY (person_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_signature
    ADD CONSTRAINT grading_signature_release_id_2bd14c7c_fk_grading_release_id FOREIGN KEY (release_id) REFERENCES public.grading_release(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_storedverdict
    ADD CONSTRAINT grading_storedverdic_enrolment_id_1faa013f_fk_lessons_e FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_tap
    ADD CONSTRAINT grading_tap_lesson_id_8c82193d_fk_lessons_lesson_id FOREIGN KEY (lesson_id) REFERENCES public.lessons_lesson(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_tap
    ADD CONSTRAINT grading_tap_person_id_12a5d5fe_fk_school_person_id FOREIGN KEY (person_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.grading_tap
    ADD CONSTRAINT grading_tap_undoes_id_faf375cc_fk_grading_tap_id FOREIGN KEY (undoes_id) REFERENCES public.grading_tap(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_circuit
    ADD CONSTRAINT lessons_circuit_lesson_id_bdeb7a3d_fk_lessons_lesson_id FOREIGN KEY (lesson_id) REFERENCES public.lessons_lesson(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_criterion
    ADD CONSTRAINT lessons_criterion_manoeuvre_id_e7a6c430_fk_lessons_manoeuvre_id FOREIGN KEY (manoeuvre_id) REFERENCES public.lessons_manoeuvre(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_aircraft_type_id_519f182a_fk_school_ai FOREIGN KEY (aircraft_type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_enrolment_id_9e6cda5c_fk_lessons_e FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_given_by_id_bcdbd86c_fk_school_person_id FOREIGN KEY (given_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_recorded_by_id_08f4a2d5_fk_school_person_id FOREIGN KEY (recorded_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_endorsement
    ADD CONSTRAINT lessons_endorsement_withdrawn_by_id_45027fa8_fk_school_pe FOREIGN KEY (withdrawn_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_enrolment
    ADD CONSTRAINT lessons_enrolment_aircraft_type_id_4ba3fce2_fk_school_ai FOREIGN KEY (aircraft_type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_enrolment
    ADD CONSTRAINT lessons_enrolment_instructor_id_5d3dd6b5_fk_school_person_id FOREIGN KEY (instructor_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_enrolment
    ADD CONSTRAINT lessons_enrolment_student_id_e1b3920a_fk_school_person_id FOREIGN KEY (student_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_enrolment
    ADD CONSTRAINT lessons_enrolment_syllabus_id_bc16c179_fk_lessons_syllabus_id FOREIGN KEY (syllabus_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_fault_manoeuvres
    ADD CONSTRAINT lessons_fault_manoeu_manoeuvre_id_7a44d707_fk_lessons_m FOREIGN KEY (manoeuvre_id) REFERENCES public.lessons_manoeuvre(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_fault_manoeuvres
    ADD CONSTRAINT lessons_fault_manoeuvres_fault_id_b64c1d65_fk_lessons_fault_id FOREIGN KEY (fault_id) REFERENCES public.lessons_fault(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_fault
    ADD CONSTRAINT lessons_fault_syllabus_id_b2266803_fk_lessons_syllabus_id FOREIGN KEY (syllabus_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_gate
    ADD CONSTRAINT lessons_gate_gate_set_id_670c41b5_fk_lessons_gateset_id FOREIGN KEY (gate_set_id) REFERENCES public.lessons_gateset(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_gatedraft
    ADD CONSTRAINT lessons_gatedraft_aircraft_type_id_dcf276c0_fk_school_ai FOREIGN KEY (aircraft_type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_gatedraft
    ADD CONSTRAINT lessons_gatedraft_edited_by_id_0f4e0aec_fk_school_person_id FOREIGN KEY (edited_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_gateset
    ADD CONSTRAINT lessons_gateset_aircraft_type_id_5565a9b8_fk_school_ai FOREIGN KEY (aircraft_type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_gatetarget
    ADD CONSTRAINT lessons_gatetarget_gate_id_c95ebbda_fk_lessons_gate_id FOREIGN KEY (gate_id) REFERENCES public.lessons_gate(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetes_aircraft_type_id_80dac224_fk_school_ai FOREIGN KEY (aircraft_type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetes_enrolment_id_e766310a_fk_lessons_e FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetes_recorded_by_id_a99b158c_fk_school_pe FOREIGN KEY (recorded_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetest_given_by_id_c1eacd30_fk_school_person_id FOREIGN KEY (given_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_knowledgetest
    ADD CONSTRAINT lessons_knowledgetest_unit_id_61ff8433_fk_lessons_unit_id FOREIGN KEY (unit_id) REFERENCES public.lessons_unit(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_aircraft_id_f6bb97ab_fk_school_aircraft_id FOREIGN KEY (aircraft_id) REFERENCES public.school_aircraft(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_begun_by_id_5487556f_fk_school_person_id FOREIGN KEY (begun_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_enrolment_id_4ccc90f2_fk_lessons_enrolment_id FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_instructor_id_de2c951e_fk_school_person_id FOREIGN KEY (instructor_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_runway_id_cc072ecd_fk_school_runway_id FOREIGN KEY (runway_id) REFERENCES public.school_runway(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_signed_by_id_6ec0b27e_fk_school_person_id FOREIGN KEY (signed_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_supersedes_id_767e7041_fk_lessons_lesson_id FOREIGN KEY (supersedes_id) REFERENCES public.lessons_lesson(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_lesson
    ADD CONSTRAINT lessons_lesson_unit_id_ee8532f8_fk_lessons_unit_id FOREIGN KEY (unit_id) REFERENCES public.lessons_unit(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_manoeuvre
    ADD CONSTRAINT lessons_manoeuvre_syllabus_id_4063870a_fk_lessons_syllabus_id FOREIGN KEY (syllabus_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_stage
    ADD CONSTRAINT lessons_stage_syllabus_id_04b8dad2_fk_lessons_syllabus_id FOREIGN KEY (syllabus_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabus
    ADD CONSTRAINT lessons_syllabus_scale_id_48b06ee0_fk_lessons_gradescale_id FOREIGN KEY (scale_id) REFERENCES public.lessons_gradescale(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabusdraft
    ADD CONSTRAINT lessons_syllabusdraf_based_on_id_b7e7891a_fk_lessons_s FOREIGN KEY (based_on_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabusdraft
    ADD CONSTRAINT lessons_syllabusdraft_edited_by_id_b03048a5_fk_school_person_id FOREIGN KEY (edited_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabusmove
    ADD CONSTRAINT lessons_syllabusmove_after_id_1be6e176_fk_lessons_syllabus_id FOREIGN KEY (after_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabusmove
    ADD CONSTRAINT lessons_syllabusmove_before_id_db5495c6_fk_lessons_syllabus_id FOREIGN KEY (before_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabusmove
    ADD CONSTRAINT lessons_syllabusmove_enrolment_id_f9799a3e_fk_lessons_e FOREIGN KEY (enrolment_id) REFERENCES public.lessons_enrolment(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_syllabusmove
    ADD CONSTRAINT lessons_syllabusmove_moved_by_id_a23adea5_fk_school_person_id FOREIGN KEY (moved_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_trainingitem
    ADD CONSTRAINT lessons_trainingitem_syllabus_id_59c734ef_fk_lessons_s FOREIGN KEY (syllabus_id) REFERENCES public.lessons_syllabus(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_unit
    ADD CONSTRAINT lessons_unit_stage_id_94ccb2a4_fk_lessons_stage_id FOREIGN KEY (stage_id) REFERENCES public.lessons_stage(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_unitmanoeuvre
    ADD CONSTRAINT lessons_unitmanoeuvr_manoeuvre_id_6ace0199_fk_lessons_m FOREIGN KEY (manoeuvre_id) REFERENCES public.lessons_manoeuvre(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_unitmanoeuvre
    ADD CONSTRAINT lessons_unitmanoeuvre_unit_id_ec2898f2_fk_lessons_unit_id FOREIGN KEY (unit_id) REFERENCES public.lessons_unit(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_unitmapping
    ADD CONSTRAINT lessons_unitmapping_move_id_58922ca9_fk_lessons_syllabusmove_id FOREIGN KEY (move_id) REFERENCES public.lessons_syllabusmove(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_unitmapping
    ADD CONSTRAINT lessons_unitmapping_new_id_c45e0f09_fk_lessons_unit_id FOREIGN KEY (new_id) REFERENCES public.lessons_unit(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.lessons_unitmapping
    ADD CONSTRAINT lessons_unitmapping_old_id_7cf51278_fk_lessons_unit_id FOREIGN KEY (old_id) REFERENCES public.lessons_unit(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.procrastinate_events
    ADD CONSTRAINT procrastinate_events_job_id_fkey FOREIGN KEY (job_id) REFERENCES public.procrastinate_jobs(id) ON DELETE CASCADE;
ALTER TABLE ONLY public.procrastinate_jobs
    ADD CONSTRAINT procrastinate_jobs_worker_id_fkey FOREIGN KEY (worker_id) REFERENCES public.procrastinate_workers(id) ON DELETE SET NULL;
ALTER TABLE ONLY public.procrastinate_periodic_defers
    ADD CONSTRAINT procrastinate_periodic_defers_job_id_fkey FOREIGN KEY (job_id) REFERENCES public.procrastinate_jobs(id);
ALTER TABLE ONLY public.school_aircraft
    ADD CONSTRAINT school_aircraft_type_id_5dedbe36_fk_school_aircrafttype_id FOREIGN KEY (type_id) REFERENCES public.school_aircrafttype(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.school_paper
    ADD CONSTRAINT school_paper_person_id_4599ec6b_fk_school_person_id FOREIGN KEY (person_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.school_paper
    ADD CONSTRAINT school_paper_recorded_by_id_01d03f7d_fk_school_person_id FOREIGN KEY (recorded_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.school_paper
    ADD CONSTRAINT school_paper_voided_by_id_5c8d7b29_fk_school_person_id FOREIGN KEY (voided_by_id) REFERENCES public.school_person(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.school_runway
    ADD CONSTRAINT school_runway_aerodrome_id_5c7bf3df_fk_school_aerodrome_id FOREIGN KEY (aerodrome_id) REFERENCES public.school_aerodrome(id) DEFERRABLE INITIALLY DEFERRED;
ALTER TABLE ONLY public.school_school
    ADD CONSTRAINT school_school_aerodrome_id_0dc6d922_fk_school_aerodrome_id FOREIGN KEY (aerodrome_id) REFERENCES public.school_aerodrome(id) DEFERRABLE INITIALLY DEFERRED;
