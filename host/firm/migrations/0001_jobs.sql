-- The jobs of a firm: events as the crews' laptops wrote them, byte for byte, each with its hash and those
-- that it follows. Rows are added; nobody changes or deletes one. What is summed up of a job is told from its
-- events by whoever sends them, and told again by whoever checks.

CREATE SCHEMA skimgauge;

-- Which steps of the schema this database has taken.
CREATE TABLE skimgauge.step (
    number integer PRIMARY KEY,
    program text NOT NULL,
    taken timestamptz NOT NULL DEFAULT now()
);

-- Who has added to which job, and so may read it.
CREATE TABLE skimgauge.crew_job (
    job bytea NOT NULL CHECK (octet_length(job) = 16),
    crew name NOT NULL,
    PRIMARY KEY (job, crew)
);

CREATE TABLE skimgauge.event (
    job bytea NOT NULL CHECK (octet_length(job) = 16),
    hash bytea NOT NULL CHECK (octet_length(hash) = 32),
    -- Hashes of the events that it follows, in ascending order, one after another.
    parents bytea NOT NULL CHECK (octet_length(parents) % 32 = 0 AND octet_length(parents) <= 256),
    -- By which rule its hash is made.
    rule integer NOT NULL CHECK (rule IN (1, 2)),
    version bigint NOT NULL CHECK (version BETWEEN 0 AND 4294967295),
    at text NOT NULL CHECK (octet_length(at) <= 100),
    who text NOT NULL CHECK (octet_length(who) <= 2000),
    software text NOT NULL CHECK (octet_length(software) <= 2000),
    kind text NOT NULL CHECK (octet_length(kind) <= 2000),
    -- UTF-8, as it was written.
    payload bytea NOT NULL CHECK (octet_length(payload) <= 16777216),
    -- Told by this database: how many events stand before it in the longest row, and whether the job is closed
    -- where it stands.
    depth integer NOT NULL,
    shut boolean NOT NULL,
    -- Who brought it, with which machine, when. Not hashed.
    laptop text NOT NULL CHECK (octet_length(laptop) BETWEEN 1 AND 300),
    crew name NOT NULL DEFAULT current_user,
    received timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (job, hash)
);
-- A job begins once.
CREATE UNIQUE INDEX event_first ON skimgauge.event (job) WHERE octet_length(parents) = 0;
-- What follows an event.
CREATE INDEX event_after ON skimgauge.event (job, parents);
CREATE INDEX event_joins ON skimgauge.event (job) WHERE octet_length(parents) > 32;

CREATE TABLE skimgauge.photo (
    job bytea NOT NULL,
    sha256 bytea NOT NULL CHECK (octet_length(sha256) = 32),
    bytes bytea NOT NULL CHECK (octet_length(bytes) BETWEEN 1 AND 67108864 AND sha256(bytes) = sha256),
    crew name NOT NULL DEFAULT current_user,
    received timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (job, sha256)
);
ALTER TABLE skimgauge.photo ALTER COLUMN bytes SET STORAGE EXTERNAL;

-- What the events up to one of them sum up to, so that a list need not read them.
CREATE TABLE skimgauge.summary (
    job bytea NOT NULL,
    end_hash bytea NOT NULL,
    name text NOT NULL,
    client text,
    place text,
    emitter text,
    heads text[] NOT NULL,
    -- As the events say it, with the offset of their clock.
    opened text NOT NULL,
    last text NOT NULL,
    opened_at timestamptz NOT NULL,
    last_at timestamptz NOT NULL,
    events bigint NOT NULL,
    takes bigint NOT NULL,
    verdict text CHECK (verdict IN ('within', 'outside', 'unsure')),
    judged_at text,
    closed boolean NOT NULL,
    unknown bigint NOT NULL,
    crew name NOT NULL DEFAULT current_user,
    PRIMARY KEY (job, end_hash),
    FOREIGN KEY (job, end_hash) REFERENCES skimgauge.event (job, hash)
);
CREATE INDEX summary_name ON skimgauge.summary (lower(name));
CREATE INDEX summary_client ON skimgauge.summary (lower(client));
CREATE INDEX summary_heads ON skimgauge.summary USING gin (heads);

-- The hash of an event, over the very bytes that the program hashes (host/record/src/chain.rs).
CREATE FUNCTION skimgauge.event_hash(
    rule integer, parents bytea, place bigint, version bigint, at text, who text, software text, kind text, payload bytea
) RETURNS bytea LANGUAGE sql IMMUTABLE PARALLEL SAFE
SET search_path = pg_catalog
AS $$
    SELECT sha256(
        CASE rule
            WHEN 1 THEN '\x736b696d6761756765206576656e7420310000'::bytea
                || CASE octet_length(parents) WHEN 0 THEN decode(repeat('00', 32), 'hex') ELSE parents END
                || int8send(place)
            ELSE '\x736b696d6761756765206576656e7420320000'::bytea || int8send(octet_length(parents) / 32) || parents
        END
        || int8send(version)
        || int8send(octet_length(convert_to(at, 'UTF8'))) || convert_to(at, 'UTF8')
        || int8send(octet_length(convert_to(who, 'UTF8'))) || convert_to(who, 'UTF8')
        || int8send(octet_length(convert_to(software, 'UTF8'))) || convert_to(software, 'UTF8')
        || int8send(octet_length(convert_to(kind, 'UTF8'))) || convert_to(kind, 'UTF8')
        || int8send(octet_length(payload)) || payload)
$$;

-- An event is let in where its hash is that of its own bytes, and what it follows is here. It runs as the owner of
-- the tables: what an event follows may be another crew's.
CREATE FUNCTION skimgauge.event_enters() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, pg_temp
AS $$
DECLARE
    many integer := octet_length(NEW.parents) / 32;
    found integer;
    before integer;
    shut boolean;
BEGIN
    IF many = 1 THEN
        SELECT 1, e.depth, e.shut INTO found, before, shut
        FROM skimgauge.event e WHERE e.job = NEW.job AND e.hash = NEW.parents;
    ELSIF many > 1 THEN
        SELECT count(*), max(e.depth), bool_or(e.shut) INTO found, before, shut
        FROM skimgauge.event e
        WHERE e.job = NEW.job
            AND e.hash IN (SELECT substr(NEW.parents, 32 * n + 1, 32) FROM generate_series(0, many - 1) AS n);
        IF EXISTS (SELECT FROM generate_series(1, many - 1) AS n
            WHERE substr(NEW.parents, 32 * n - 31, 32) >= substr(NEW.parents, 32 * n + 1, 32)) THEN
            RAISE EXCEPTION 'what it follows is not written as it should be' USING ERRCODE = 'SKG01';
        END IF;
    END IF;
    IF coalesce(found, 0) <> many THEN
        RAISE EXCEPTION 'what it follows is not here' USING ERRCODE = 'SKG01';
    END IF;
    NEW.depth := coalesce(before + 1, 0);
    IF NEW.rule = 1 AND many > 1 THEN
        RAISE EXCEPTION 'an event of the first rule follows one event' USING ERRCODE = 'SKG01';
    END IF;
    IF (many = 0) <> (NEW.kind = 'job opened') THEN
        RAISE EXCEPTION 'a job is opened once, by its first event' USING ERRCODE = 'SKG01';
    END IF;
    IF NEW.hash <> skimgauge.event_hash(
        NEW.rule, NEW.parents, NEW.depth + 1, NEW.version, NEW.at, NEW.who, NEW.software, NEW.kind, NEW.payload
    ) THEN
        RAISE EXCEPTION 'it does not match its hash' USING ERRCODE = 'SKG01';
    END IF;
    IF many = 0 AND NEW.job IS DISTINCT FROM (CASE NEW.version
        WHEN 1 THEN substr(NEW.hash, 1, 16)
        ELSE decode(convert_from(NEW.payload, 'UTF8')::json ->> 'id', 'hex')
    END) THEN
        RAISE EXCEPTION 'it opens another job' USING ERRCODE = 'SKG01';
    END IF;
    IF many = 0 AND EXISTS (
        SELECT FROM skimgauge.event e WHERE e.job = NEW.job AND octet_length(e.parents) = 0 AND e.hash <> NEW.hash
    ) THEN
        RAISE EXCEPTION 'the job begins otherwise here' USING ERRCODE = 'SKG01';
    END IF;
    shut := coalesce(shut, false);
    -- Of kinds that this schema does not know it is not for the database to say what they may follow.
    IF shut AND NEW.kind IN (
        'job revised', 'calibration used', 'take', 'emitter tilt', 'as left', 'turn advised', 'turn observed', 'verdict',
        'section', 'calibration', 'note', 'photo attached', 'closed'
    ) THEN
        RAISE EXCEPTION 'the job is closed where it stands' USING ERRCODE = 'SKG02';
    END IF;
    NEW.shut := shut OR NEW.kind = 'closed';
    RETURN NEW;
END
$$;
CREATE TRIGGER event_enters BEFORE INSERT ON skimgauge.event FOR EACH ROW EXECUTE FUNCTION skimgauge.event_enters();

CREATE FUNCTION skimgauge.event_is_in() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, pg_temp
AS $$
BEGIN
    INSERT INTO skimgauge.crew_job SELECT DISTINCT job, crew FROM added ON CONFLICT DO NOTHING;
    RETURN NULL;
END
$$;
CREATE TRIGGER event_is_in AFTER INSERT ON skimgauge.event REFERENCING NEW TABLE AS added
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.event_is_in();

-- Nothing is changed, nothing is deleted, whoever asks.
CREATE FUNCTION skimgauge.stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'what was sent is never changed and never deleted' USING ERRCODE = 'SKG03';
END
$$;
CREATE TRIGGER event_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON skimgauge.event
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.stays();
CREATE TRIGGER photo_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON skimgauge.photo
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.stays();
CREATE TRIGGER summary_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON skimgauge.summary
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.stays();
CREATE TRIGGER crew_job_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON skimgauge.crew_job
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.stays();
CREATE TRIGGER step_stays BEFORE UPDATE OR DELETE OR TRUNCATE ON skimgauge.step
    FOR EACH STATEMENT EXECUTE FUNCTION skimgauge.stays();

-- Every branch of every job, summed up: one row a job, more where it was gone on with apart.
CREATE VIEW skimgauge.branch WITH (security_invoker = true) AS
    SELECT s.*, e.laptop, e.received
    FROM skimgauge.summary s JOIN skimgauge.event e ON e.job = s.job AND e.hash = s.end_hash
    WHERE NOT EXISTS (SELECT FROM skimgauge.event c WHERE c.job = s.job AND c.parents = s.end_hash)
        AND NOT EXISTS (
            SELECT FROM skimgauge.event c, generate_series(0, octet_length(c.parents) / 32 - 1) AS n
            WHERE c.job = s.job AND octet_length(c.parents) > 32 AND substr(c.parents, 32 * n + 1, 32) = s.end_hash
        );

-- A crew adds and reads its own, the office reads all.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'skimgauge_crew') THEN
        CREATE ROLE skimgauge_crew NOLOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'skimgauge_office') THEN
        CREATE ROLE skimgauge_office NOLOGIN;
    END IF;
END
$$;
REVOKE ALL ON ALL TABLES IN SCHEMA skimgauge FROM PUBLIC;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA skimgauge FROM PUBLIC;
GRANT USAGE ON SCHEMA skimgauge TO skimgauge_crew, skimgauge_office;
GRANT SELECT ON skimgauge.step, skimgauge.crew_job, skimgauge.event, skimgauge.photo, skimgauge.summary, skimgauge.branch
    TO skimgauge_crew, skimgauge_office;
GRANT INSERT (job, hash, parents, rule, version, at, who, software, kind, payload, laptop) ON skimgauge.event TO skimgauge_crew;
GRANT INSERT (job, sha256, bytes) ON skimgauge.photo TO skimgauge_crew;
GRANT INSERT (
    job, end_hash, name, client, place, emitter, heads, opened, last, opened_at, last_at, events, takes, verdict, judged_at,
    closed, unknown
) ON skimgauge.summary TO skimgauge_crew;

ALTER TABLE skimgauge.crew_job ENABLE ROW LEVEL SECURITY;
ALTER TABLE skimgauge.event ENABLE ROW LEVEL SECURITY;
ALTER TABLE skimgauge.photo ENABLE ROW LEVEL SECURITY;
ALTER TABLE skimgauge.summary ENABLE ROW LEVEL SECURITY;

CREATE POLICY own ON skimgauge.crew_job FOR SELECT TO skimgauge_crew
    USING (crew IN (SELECT rolname FROM pg_roles WHERE pg_has_role(oid, 'MEMBER')));
CREATE POLICY own ON skimgauge.event FOR SELECT TO skimgauge_crew USING (job IN (SELECT job FROM skimgauge.crew_job));
CREATE POLICY own ON skimgauge.photo FOR SELECT TO skimgauge_crew USING (job IN (SELECT job FROM skimgauge.crew_job));
CREATE POLICY own ON skimgauge.summary FOR SELECT TO skimgauge_crew USING (job IN (SELECT job FROM skimgauge.crew_job));
-- What an event follows is looked at by its trigger; photos and sums belong to a job that one may read.
CREATE POLICY adds ON skimgauge.event FOR INSERT TO skimgauge_crew WITH CHECK (true);
CREATE POLICY adds ON skimgauge.photo FOR INSERT TO skimgauge_crew WITH CHECK (job IN (SELECT job FROM skimgauge.crew_job));
CREATE POLICY adds ON skimgauge.summary FOR INSERT TO skimgauge_crew WITH CHECK (job IN (SELECT job FROM skimgauge.crew_job));

CREATE POLICY all_of_it ON skimgauge.crew_job FOR SELECT TO skimgauge_office USING (true);
CREATE POLICY all_of_it ON skimgauge.event FOR SELECT TO skimgauge_office USING (true);
CREATE POLICY all_of_it ON skimgauge.photo FOR SELECT TO skimgauge_office USING (true);
CREATE POLICY all_of_it ON skimgauge.summary FOR SELECT TO skimgauge_office USING (true);
