//! A report that does not tell the class of its resin.

use crate::judge::case::Case;
use crate::judge::findings::Findings;
use crate::judge::model::Model;

pub(in crate::judge) const ID: &str = "resin-class-unknown";

/// Without a class there is no case to look at, so this rule is asked before there is one, in `judge::unknown`.
pub(super) fn check(_case: &Case<'_>, _model: &Model, _out: &mut Findings) {}
