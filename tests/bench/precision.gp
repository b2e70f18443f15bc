# gnuplot -e "directory='...'" precision.gp: the curves of all networks on one sheet
if (!exists("picture")) picture = "svg"
set terminal @picture size 1700,1150 font "sans,11"
set output directory."/precision.".picture
set logscale xy
set xlabel "worst relative error at ten instants"
set ylabel "processor time, s"
set format xy "10^{%L}"
set grid
set key bmargin center maxrows 8 font ",8" samplen 2
set tmargin 3
set bmargin 13
set xrange [1e-7:1]
set multiplot layout 2,3
do for [c in "bulb valve break outgassing bake line"] {
    file = directory."/precision-".c.".dat"
    curves = int(system("grep -c '^\"' '".file."' 2>/dev/null || echo 0"))
    if (curves > 0) {
        set title "".c font ",13"
        plot for [i=0:curves-1] file index i using 2:3 with linespoints pt (i%14)+1 ps 0.5 lw (i < 4 ? 2.5 : 1) title columnheader(1)
    }
}
unset multiplot
