# gnuplot -e "directory='...'" precision.gp: the curves of all networks on one sheet
set terminal svg size 1500,1000 font "sans,11"
set output directory."/precision.svg"
set logscale xy
set xlabel "worst relative error at ten instants"
set ylabel "processor time, s"
set format xy "10^{%L}"
set grid
set key outside bottom maxrows 6 font ",8"
set xrange [1e-8:1]
cases = "bulb valve break outgassing line"
set multiplot layout 2,3
do for [c in cases] {
    file = directory."/precision-".c.".dat"
    exists = int(system("test -s '".file."' && echo 1 || echo 0"))
    if (exists) {
        stats file nooutput
        set title c
        plot for [i=0:STATS_blocks-1] file index i using 2:3 with linespoints pt (i%14)+1 ps 0.5 title columnheader(1)
    }
}
unset multiplot
