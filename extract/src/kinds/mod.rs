//! One file for each kind of entry: the rules that find it.

pub(crate) mod behaviour;
pub(crate) mod condition;
pub(crate) mod echo;
pub(crate) mod equipment;
pub(crate) mod flights;
pub(crate) mod food;
pub(crate) mod quarry;
pub(crate) mod remark;
pub(crate) mod response;
pub(crate) mod training;
pub(crate) mod weather;
pub(crate) mod weight;
