-- The submaximal efforts that come before a test's first maximal one.

ALTER TABLE test_limit ADD COLUMN build_up_efforts INTEGER;
COMMENT ON COLUMN test_limit.build_up_efforts IS 'Submaximal efforts before the first; they count as no volume. NULL where nobody said.';
