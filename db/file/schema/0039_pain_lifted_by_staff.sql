-- Only staff lift pain. A later "no" lifted it as well, but who wants to play may well say so.
-- In its place, pain that was imported more than four weeks after its day is history, and blocks
-- nobody (four weeks are common practice, no source).

CREATE OR REPLACE VIEW athlete_standing AS
WITH said AS (
    SELECT * FROM athlete_status
    QUALIFY row_number() OVER (PARTITION BY athlete ORDER BY since DESC, status_id DESC) = 1
), hurt AS (
    SELECT s.athlete, s.started_at::DATE AS day,
           coalesce((SELECT min(e.revision) FROM effort e WHERE e.session_id = s.session_id), 0)
               AS revision
    FROM session s WHERE s.pain AND NOT EXISTS (
        SELECT 1 FROM effort e JOIN import_batch b ON b.batch_id = e.batch_id
        WHERE e.session_id = s.session_id
        AND b.imported_at::DATE > s.started_at::DATE + 28)
), answered AS (
    SELECT * FROM hurt
    QUALIFY row_number() OVER (PARTITION BY athlete ORDER BY day DESC, revision DESC) = 1
)
SELECT a.athlete, a.name, coalesce(s.status, 'fit') AS status, s.since,
       coalesce(s.reason, '') AS reason,
       CASE WHEN p.day IS NOT NULL AND (s.since IS NULL OR s.since < p.day
                             OR (s.since = p.day AND s.revision < p.revision))
            THEN p.day END AS pain_day
FROM athlete a LEFT JOIN said s ON s.athlete = a.athlete
LEFT JOIN answered p ON p.athlete = a.athlete;
COMMENT ON VIEW athlete_standing IS 'How every athlete is: what staff said last, and the day of pain that they have not lifted since; pain imported more than four weeks after its day is history.';
