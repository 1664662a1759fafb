-- Service life: what becomes of a helmet, whose head it has to fit, and which shells fit which heads.

ALTER TABLE helmet ADD COLUMN marks TEXT NOT NULL DEFAULT '[]'; -- JSON: condition, each with its day
ALTER TABLE helmet ADD COLUMN failed TEXT; -- why it failed an inspection
ALTER TABLE helmet ADD COLUMN shipped TEXT; -- at the shop since; NULL when it is here
ALTER TABLE helmet ADD COLUMN promised TEXT;
ALTER TABLE helmet ADD COLUMN issued_at BIGINT; -- by staff's word, which a file does not undo
ALTER TABLE athlete ADD COLUMN head_mm BIGINT;
ALTER TABLE model ADD COLUMN sizes TEXT NOT NULL DEFAULT '[]'; -- JSON: name, from_mm, to_mm
