-- Layout 1. A layout is never changed once a store has been written with it: what comes later is a step of its own.

-- One vessel of one site, by names that spelling does not change. `facts` is JSON: the register's entry.
CREATE TABLE bed (
    id TEXT PRIMARY KEY NOT NULL,
    site_key TEXT NOT NULL,
    vessel_key TEXT NOT NULL,
    facts TEXT NOT NULL,
    UNIQUE (site_key, vessel_key)
) STRICT, WITHOUT ROWID;

-- The words of each site's key, so that a name that holds all words of another is found without looking at every bed.
CREATE TABLE site_word (
    word TEXT NOT NULL,
    site_key TEXT NOT NULL,
    PRIMARY KEY (word, site_key)
) STRICT, WITHOUT ROWID;

-- Other names under which reports have spoken of a bed, as somebody has said.
CREATE TABLE alias (
    site_key TEXT NOT NULL,
    vessel_key TEXT NOT NULL,
    bed TEXT NOT NULL REFERENCES bed,
    PRIMARY KEY (site_key, vessel_key)
) STRICT, WITHOUT ROWID;

-- A report's file, once by its hash; `content` is compressed (zlib).
CREATE TABLE report (
    sha256 TEXT PRIMARY KEY NOT NULL,
    name TEXT NOT NULL,
    size INTEGER NOT NULL,
    content BLOB NOT NULL,
    reading TEXT NOT NULL,
    filed_on TEXT NOT NULL,
    read_by TEXT NOT NULL
) STRICT;

-- One record of a report, under its bed. `counts` is 0 where a later report has taken its place. `role` is `bed` for a
-- sample of the whole bed, `depth` for one of a single depth, `cleaned` for one after a cleaning. `given` is what
-- somebody said of the record over the report, so that reading it again keeps that.
CREATE TABLE analysis (
    id INTEGER PRIMARY KEY NOT NULL,
    report TEXT NOT NULL REFERENCES report,
    number INTEGER NOT NULL,
    bed TEXT NOT NULL REFERENCES bed,
    taken_on TEXT,
    laboratory_key TEXT,
    number_key TEXT,
    installed_on TEXT,
    role TEXT NOT NULL,
    counts INTEGER NOT NULL DEFAULT 1,
    record TEXT NOT NULL,
    given TEXT NOT NULL,
    UNIQUE (report, number)
) STRICT;
CREATE INDEX analysis_of_bed ON analysis (bed, taken_on);
CREATE INDEX analysis_by_number ON analysis (number_key, laboratory_key) WHERE number_key IS NOT NULL;

-- The figures of an analysis that carry no doubt, in canonical units: what trends are drawn through.
CREATE TABLE figure (
    analysis INTEGER NOT NULL REFERENCES analysis ON DELETE CASCADE,
    property TEXT NOT NULL,
    basis TEXT NOT NULL,
    form TEXT NOT NULL,
    value REAL NOT NULL,
    PRIMARY KEY (analysis, property, basis, form)
) STRICT, WITHOUT ROWID;

-- What somebody measured at the bed.
CREATE TABLE reading (
    id INTEGER PRIMARY KEY NOT NULL,
    bed TEXT NOT NULL REFERENCES bed,
    taken_on TEXT NOT NULL,
    body TEXT NOT NULL,
    UNIQUE (bed, taken_on, body)
) STRICT;

-- What was done to the bed.
CREATE TABLE event (
    id INTEGER PRIMARY KEY NOT NULL,
    bed TEXT NOT NULL REFERENCES bed,
    happened_on TEXT NOT NULL,
    body TEXT NOT NULL,
    UNIQUE (bed, happened_on, body)
) STRICT;
