-- A line of the record whose words were erased on request: its hash stays, so that the chain holds and the gap is counted.

ALTER TABLE record ADD COLUMN erased BOOLEAN NOT NULL DEFAULT FALSE;
