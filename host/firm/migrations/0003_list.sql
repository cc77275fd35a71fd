-- Who sent what a sum ends with stands beside the sum: a list of all jobs need not go through all events.

ALTER TABLE skimgauge.summary ADD COLUMN laptop text, ADD COLUMN received timestamptz NOT NULL DEFAULT now();
ALTER TABLE skimgauge.summary DISABLE TRIGGER summary_stays;
UPDATE skimgauge.summary s SET laptop = e.laptop, received = e.received
    FROM skimgauge.event e WHERE e.job = s.job AND e.hash = s.end_hash;
ALTER TABLE skimgauge.summary ENABLE TRIGGER summary_stays;
ALTER TABLE skimgauge.summary ALTER COLUMN laptop SET NOT NULL, ADD CHECK (octet_length(laptop) BETWEEN 1 AND 300);
GRANT INSERT (laptop) ON skimgauge.summary TO skimgauge_crew;

DROP VIEW skimgauge.branch;
CREATE VIEW skimgauge.branch WITH (security_invoker = true) AS
    SELECT s.* FROM skimgauge.summary s
    WHERE NOT EXISTS (SELECT FROM skimgauge.event c WHERE c.job = s.job AND c.parents = s.end_hash)
        AND NOT EXISTS (
            SELECT FROM skimgauge.event c, generate_series(0, octet_length(c.parents) / 32 - 1) AS n
            WHERE c.job = s.job AND octet_length(c.parents) > 32 AND substr(c.parents, 32 * n + 1, 32) = s.end_hash
        );
GRANT SELECT ON skimgauge.branch TO skimgauge_crew, skimgauge_office;
