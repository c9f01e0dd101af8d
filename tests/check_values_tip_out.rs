//! Promise: the network of the tip-out run (throttle shut at boost) meets published and independently computed values:
//! surge after Greitzer, resonances, emptying and filling of vessels, a rotor, signal hoses, lost air. Each case goes through the
//! constructors that builds go through.

#[path = "check_values_tip_out/hose.rs"]
mod hose;
#[path = "check_values_tip_out/metering.rs"]
mod metering;
#[path = "check_values_tip_out/surge.rs"]
mod surge;
#[path = "check_values_tip_out/vessels.rs"]
mod vessels;
