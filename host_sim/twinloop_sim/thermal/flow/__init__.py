"""What follows from flow: films in plates, tubes and absorber, the loop's resistance, the pump.

Set-up only, plain numpy: each figure of the compiled step is a table or a factor made here, and
`lookup` is what reads the tables in the step. Only `speeds` imports the table of plant values.

    films     Nusselt numbers and friction factors of tubes and chevron plates
    plates    the small brazed exchanger: UA by both flows and both temperatures
    absorber  the collector's efficiency factor F' by flow and temperature
    loop      pressure drop of the roof loop, part by part
    pump      a circulator's curve, the speed for a flow, its power against the label's scale
    tables    films as rows of numbers for the step
    lookup    the compiled end of it
    speeds    the speeds at which a plant's pumps give a part of their flows
"""
