"""The desk: the day's work by subject, deeds (write) and views (read).

The only package that joins the book and the computations. The web application and the command line call it.

context     the desk itself, and the one way in which a deed is done (once per client key)
yards       set up, look at and change the yard
wood_in     loads, logs, opening stock, naming wood, what to expect of it
expectations  what a load amounts to
stacking    cut, split and stack; measure, move, empty
moving      wood put on another stack, divided, sent back, used, rotten, lost, returned
stacks      what stands where, and its journal
readings    pin meter, oven sample, weighing; a reading confirmed or set aside
witness     marked pieces of a stack, weighed now and then
weights     what their weights come to
learning    what readings of one stack teach of others
measuring   what to measure next
skies       weather files, services, the place
sky_rows    weather as the book keeps it; all that is known as one sky
fetching    weather services asked, their answers kept
forecasts   when each stack is dry, kept until something changes
wares       what we sell
households  who buys
orders      ask, promise, cancel; joint odds
deliveries  deliver, sell at the gate
tickets     tickets, their PDF, payments
ticket_paper  a ticket's facts as the paper wants them; its wording checked
today       what needs doing
demo        the demo yard, made by deeds
"""
