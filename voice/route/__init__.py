"""What is inspected, in which order, on which vehicle.

In: prompts/ and a vehicle's profile.
Out: a `Plan` of steps in walking order.
May use: errors, data, measure.
"""

from voice.route.expand import expand, fitting_routes, make_plan, pick_route
from voice.route.library import Library, load_library
from voice.route.vehicles import load_vehicle, vehicle_files

__all__ = [
    "Library",
    "expand",
    "fitting_routes",
    "load_library",
    "load_vehicle",
    "make_plan",
    "pick_route",
    "vehicle_files",
]
