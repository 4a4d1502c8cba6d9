//! Worked examples of each command on the store.

pub const ADD: &str = "\
Examples:
  beadwise beds add --site \"Mill Street Laundry\" --vessel \"Softener 2\" \\
      --class sac-gel-8
  beadwise beds add --site \"Mill Street Laundry\" --vessel \"Softener 2\" \\
      --volume \"10 ft3\" --bore \"24 in\" --freeboard \"22 in\" --installed 2016-05 \\
      --drinking no
  beadwise beds add --site \"Marsh End Creamery\" --vessel Softener \\
      --water feed_iron=\"1.2 mg/L\"";

pub const SET: &str = "\
Examples:
  beadwise beds set softener-2 --complaint \"hard water since May\"
  beadwise beds set softener-2 --freeboard \"22 in\" --resin-price \"180 USD/ft3\"
  beadwise beds set softener-2 --vessel \"Softener B\"  another name, the same bed";

pub const LIST: &str = "\
Examples:
  beadwise beds list
  beadwise beds list --site \"Mill Street Laundry\"
  beadwise beds list --json";

pub const SHOW: &str = "\
Examples:
  beadwise beds show softener-2
  beadwise beds show mill-street-laundry/softener-2 --json";

pub const EVENT: &str = "\
Examples:
  beadwise beds event softener-2 cleaned --on 2025-04-02
  beadwise beds event softener-2 topped-off --on 2025-04-02 --volume \"1 ft3\" \\
      --lot A17
  beadwise beds event softener-2 rebedded --on 2025-04-02 --class sac-gel-10 \\
      --kept-sample \"shelf 3\"";

pub const HISTORY: &str = "\
Examples:
  beadwise beds history softener-2
  beadwise beds history softener-2 --property moisture_retention
  beadwise beds history softener-2 --json --today 2025-03-31";

pub const TREND: &str = "\
Examples:
  beadwise beds trend softener-2
  beadwise beds trend softener-2 --property score";

pub const DUE: &str = "\
Examples:
  beadwise beds due --within 6     what falls due in half a year
  beadwise beds due --site \"Mill Street Laundry\"
  beadwise beds due --ics due.ics  for a calendar";

pub const RANK: &str = "\
Examples:
  beadwise beds rank
  beadwise beds rank --site \"Mill Street Laundry\" --json";

pub const CHECK: &str = "\
Examples:
  beadwise beds check
  beadwise beds check --store old.db";

pub const BACKUP: &str = "\
Examples:
  beadwise beds backup beds-2025-11.db";

pub const RESTORE: &str = "\
Examples:
  beadwise beds restore beds-2025-11.db
  beadwise beds restore beds-2025-11.db --store other.db";

pub const EXPORT: &str = "\
Examples:
  beadwise beds export -o beds.jsonl
  beadwise beds export > beds.jsonl";

pub const IMPORT: &str = "\
Examples:
  beadwise beds import beds.jsonl --store new.db";

pub const REREAD: &str = "\
Examples:
  beadwise beds reread          what a newer grammar would change
  beadwise beds reread --bed softener-2 --grammar words.toml
  beadwise beds reread --apply  change it";

pub const TAKE_OUT: &str = "\
Examples:
  beadwise beds take-out march.pdf
  beadwise beds take-out 3f2a91  by the beginning of its SHA-256";
