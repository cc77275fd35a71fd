-- Events are looked at together, once a statement, where each was looked at by itself: the same questions in a tenth
-- of the time. Where an event stands is now said by whoever sends it, and held against what it follows.

DROP TRIGGER event_enters ON skimgauge.event;
DROP FUNCTION skimgauge.event_enters();
DROP TRIGGER event_is_in ON skimgauge.event;
DROP FUNCTION skimgauge.event_is_in();
DROP FUNCTION skimgauge.event_hash(integer, bytea, bigint, bigint, text, text, text, text, bytea);

-- The hash of an event, over the very bytes that the program hashes (host/record/src/chain.rs). As it stands here
-- PostgreSQL puts it into the query that asks for it; texts are in UTF-8 here.
CREATE FUNCTION skimgauge.event_hash(
    rule integer, parents bytea, place bigint, version bigint, at text, who text, software text, kind text, payload bytea
) RETURNS bytea LANGUAGE sql STABLE PARALLEL SAFE
AS $$
    SELECT sha256(
        CASE rule
            WHEN 1 THEN '\x736b696d6761756765206576656e7420310000'::bytea
                || CASE octet_length(parents) WHEN 0 THEN decode(repeat('00', 32), 'hex') ELSE parents END
                || int8send(place)
            ELSE '\x736b696d6761756765206576656e7420320000'::bytea || int8send(octet_length(parents) / 32) || parents
        END
        || int8send(version)
        || int8send(octet_length(at)) || convert_to(at, 'UTF8')
        || int8send(octet_length(who)) || convert_to(who, 'UTF8')
        || int8send(octet_length(software)) || convert_to(software, 'UTF8')
        || int8send(octet_length(kind)) || convert_to(kind, 'UTF8')
        || int8send(octet_length(payload)) || payload)
$$;

-- A job's first event opens that job and no other, and there is one.
CREATE FUNCTION skimgauge.job_begins() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, pg_temp
AS $$
BEGIN
    IF NEW.job IS DISTINCT FROM (CASE NEW.version
        WHEN 1 THEN substr(NEW.hash, 1, 16)
        ELSE decode(convert_from(NEW.payload, 'UTF8')::json ->> 'id', 'hex')
    END) THEN
        RAISE EXCEPTION 'it opens another job' USING ERRCODE = 'SKG01';
    END IF;
    IF EXISTS (
        SELECT FROM skimgauge.event e WHERE e.job = NEW.job AND octet_length(e.parents) = 0 AND e.hash <> NEW.hash
    ) THEN
        RAISE EXCEPTION 'the job begins otherwise here' USING ERRCODE = 'SKG01';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER job_begins BEFORE INSERT ON skimgauge.event FOR EACH ROW WHEN (octet_length(NEW.parents) = 0)
    EXECUTE FUNCTION skimgauge.job_begins();

-- An event is let in where its hash is that of its own bytes, what it follows is here, and it stands where it says.
-- It runs as the owner of the tables: what an event follows may be another crew's. However little is there when a
-- connection first asks, what an event follows is looked up by its hash.
CREATE FUNCTION skimgauge.events_enter() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, pg_temp
SET enable_seqscan = off
AS $$
DECLARE
    wrong text;
BEGIN
    SELECT asked.wrong INTO wrong FROM (
        SELECT CASE
            WHEN (a.parents = '') <> (a.kind = 'job opened') THEN 'a job is opened once, by its first event'
            WHEN a.rule = 1 AND octet_length(a.parents) > 32 THEN 'an event of the first rule follows one event'
            WHEN octet_length(a.parents) > 32 AND EXISTS (
                SELECT FROM generate_series(1, octet_length(a.parents) / 32 - 1) AS n
                WHERE substr(a.parents, 32 * n - 31, 32) >= substr(a.parents, 32 * n + 1, 32)
            ) THEN 'what it follows is not written as it should be'
            WHEN before.count <> octet_length(a.parents) / 32 THEN 'what it follows is not here'
            WHEN a.depth <> coalesce(before.depth + 1, 0) OR a.shut <> (coalesce(before.shut, false) OR a.kind = 'closed')
                THEN 'it does not stand where it says'
            WHEN a.hash <> skimgauge.event_hash(
                a.rule, a.parents, a.depth + 1, a.version, a.at, a.who, a.software, a.kind, a.payload
            ) THEN 'it does not match its hash'
            -- Of what this schema does not know it is not for the database to say what they may follow.
            WHEN before.shut AND EXISTS (
                SELECT FROM (VALUES
                    ('job revised', 2), ('calibration used', 1), ('take', 3), ('emitter tilt', 2), ('emitter off', 1),
                    ('as left', 1), ('turn advised', 2), ('turn observed', 4), ('verdict', 3), ('section', 2),
                    ('calibration', 1), ('note', 2), ('photo attached', 1), ('closed', 1)
                ) AS known (kind, version) WHERE known.kind = a.kind AND a.version BETWEEN 1 AND known.version
            ) THEN 'the job is closed where it stands'
        END AS wrong
        FROM added a CROSS JOIN LATERAL (
            SELECT count(*) AS count, max(e.depth) AS depth, bool_or(e.shut) AS shut FROM skimgauge.event e
            WHERE e.job = a.job AND e.hash = ANY (CASE octet_length(a.parents) WHEN 32 THEN ARRAY[a.parents] ELSE ARRAY(
                SELECT substr(a.parents, 32 * n + 1, 32) FROM generate_series(0, octet_length(a.parents) / 32 - 1) AS n
            ) END)
        ) before
    ) asked WHERE asked.wrong IS NOT NULL LIMIT 1;
    IF wrong IS NOT NULL THEN
        RAISE EXCEPTION '%', wrong
            USING ERRCODE = CASE wrong WHEN 'the job is closed where it stands' THEN 'SKG02' ELSE 'SKG01' END;
    END IF;
    INSERT INTO skimgauge.crew_job SELECT DISTINCT job, crew FROM added ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$$;
CREATE TRIGGER events_enter AFTER INSERT ON skimgauge.event REFERENCING NEW TABLE AS added
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.events_enter();

REVOKE ALL ON ALL FUNCTIONS IN SCHEMA skimgauge FROM PUBLIC;
GRANT INSERT (depth, shut) ON skimgauge.event TO skimgauge_crew;
