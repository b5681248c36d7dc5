"""What is not modelled, told in plain words."""

LIMITS = (
    "An estimate and no promise: traffic, stops, road works, punctures and mechanical trouble are"
    " not in it.",
    "The model was found to err by about 2.7 W against power measured on the road (Martin et al."
    " 1998). Differences between two setups are surer than the finish time, since what is wrong in"
    " both cancels.",
    "Drafting, other riders and heat are not modelled; fatigue only as the limit of the card.",
    "Wind is a mean: gusts are not in the time. Unless the race file has a table by yaw, one drag"
    " area counts at every yaw.",
    "Savings are taken to add in drag area, unless a test of the whole set says otherwise.",
    "A test tells about the rider, fit, size, speed and yaw of the test, and a test of one day not"
    " about another day. What is wrong in every run alike shows in no interval.",
    "The doubts of different options are taken as independent of each other.",
    "Comfort, noise, looks, and what a place in the results is worth to you are in no number.",
)
"""Sentences for whoever acts on an advice."""
