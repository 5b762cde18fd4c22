//! Confirmed days in; weight trend, flying weight, ration, training step, alarms and charts out. Pure.
