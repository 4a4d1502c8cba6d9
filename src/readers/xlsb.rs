//! stub
use super::{Input, ReadError, ReadOptions, ReadOutput};

pub(super) fn sniff(_input: &Input<'_>) -> bool {
    false
}

pub(super) fn read(_input: &Input<'_>, _options: &ReadOptions) -> Result<ReadOutput, ReadError> {
    Err(ReadError::new("unsupported-yet", "not yet"))
}
