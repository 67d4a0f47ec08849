//! What can go wrong.

use crate::isolate::IsolateError;
use crate::session::SessionError;
use casetight::limit::LimitError;
use casetight::vessel::Direction;

/// What can go wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LocateError {
    /// A run can't be assessed.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// What a run says of the sites is not valid.
    #[error("run \"{run}\": {source}")]
    Run {
        /// The run's name.
        run: String,
        /// What is wrong.
        source: IsolateError,
    },
    /// The runs of a direction can't be put together.
    #[error("{direction}: {source}")]
    Direction {
        /// The direction.
        direction: Direction,
        /// What is wrong.
        source: IsolateError,
    },
    /// A limit is not valid.
    #[error(transparent)]
    Limit(#[from] LimitError),
    /// Every run is one with a known leak.
    #[error("every run was made with a known leak; add one without it")]
    OnlyKnownLeaks,
}
