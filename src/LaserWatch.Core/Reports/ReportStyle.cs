namespace LaserWatch.Reports;

/// <summary>The style sheet of the report: a well-set test report rather than a screen of dials. It names no file and no font that is not on the reader's machine.</summary>
internal static class ReportStyle
{
    public static string Sheet { get; } = $$"""
        :root{color-scheme:light dark;{{ReportColours.Light.Variables}};
        --serif:Charter,"Bitstream Charter","Iowan Old Style","Palatino Linotype",Cambria,Georgia,"Liberation Serif",serif;
        --sans:system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans","Liberation Sans","DejaVu Sans",sans-serif}
        @media (prefers-color-scheme:dark){:root{ {{ReportColours.Dark.Variables}} } }
        *{box-sizing:border-box}
        html{font-size:100%;-webkit-text-size-adjust:100%;text-size-adjust:100%}
        body{margin:0;background:var(--paper);color:var(--ink);font-family:var(--serif);font-size:1.0625rem;line-height:1.55}
        .skip{position:absolute;left:-100vw;top:0;background:var(--ink);color:var(--paper);padding:.5rem 1rem}
        .skip:focus{left:0}
        header,main,footer{max-width:47rem;margin:0 auto;padding:0 1rem}
        header{padding-top:2.25rem}
        footer{padding-top:1.25rem;padding-bottom:3rem;color:var(--quiet);font-size:.9375rem;border-top:1px solid var(--rule);margin-top:3rem}
        h1,h2,h3{line-height:1.25;font-weight:600;text-wrap:balance}
        h1{font-size:1.75rem;margin:.2rem 0 .4rem}
        h2{font-size:1.3125rem;margin:0 0 .8rem}
        h3{font-size:1.0625rem;margin:1.8rem 0 .5rem}
        p{margin:0 0 .9rem;max-width:40rem;overflow-wrap:anywhere}
        a{color:var(--accent)}
        section{padding-top:2.4rem}
        .kind{font-family:var(--sans);font-size:.8125rem;letter-spacing:.07em;text-transform:uppercase;color:var(--quiet);margin:0}
        .span{font-family:var(--sans);font-size:.9375rem;color:var(--quiet);margin:0}
        .number{color:var(--quiet);font-weight:400;margin-right:.6em;font-variant-numeric:tabular-nums}
        .note{font-size:.9375rem;color:var(--quiet)}
        #summary{padding-top:1.4rem}
        #summary h2{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
        .first{font-size:1.25rem;line-height:1.4;max-width:none}
        .first strong{font-family:var(--sans);font-size:2.25rem;font-weight:600;line-height:1.1;color:var(--accent);font-variant-numeric:tabular-nums;white-space:nowrap}
        .verdict{max-width:none}
        .list{margin:1.4rem 0;border-top:1.5px solid var(--ink);font-family:var(--sans);font-size:.9375rem;line-height:1.4}
        .list div{display:grid;grid-template-columns:16rem 1fr;column-gap:1.25rem;padding:.45rem 0;border-bottom:1px solid var(--rule)}
        .list dt{color:var(--quiet)}
        .list dd{margin:0;font-variant-numeric:tabular-nums;overflow-wrap:anywhere}
        .list b{font-weight:600}
        nav ol{columns:2;column-gap:2rem;padding-left:0;list-style:none;font-family:var(--sans);font-size:.9375rem;margin:.5rem 0 0}
        nav li{margin:.15rem 0;break-inside:avoid}
        .table{overflow-x:auto;margin:0 0 1.2rem}
        table{border-collapse:collapse;width:100%;font-family:var(--sans);font-size:.875rem;line-height:1.4}
        caption{text-align:left;font-weight:600;padding:0 0 .45rem;caption-side:top}
        th,td{text-align:left;vertical-align:top;padding:.4rem .7rem .4rem 0;border-bottom:1px solid var(--rule)}
        th:last-child,td:last-child{padding-right:0}
        thead th{border-bottom:1.5px solid var(--ink);font-weight:600;vertical-align:bottom}
        tbody th{font-weight:500}
        .n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
        .d{white-space:nowrap;font-variant-numeric:tabular-nums}
        .w{overflow-wrap:break-word;min-width:7.5rem}
        .out{color:var(--limit);font-weight:600}
        .facts th{width:13rem;color:var(--quiet);font-weight:400}
        .facts td{overflow-wrap:anywhere;white-space:pre-line}
        code{font-family:ui-monospace,"Liberation Mono",Consolas,monospace;font-size:.9em;overflow-wrap:anywhere}
        figure{margin:1.4rem 0;padding:0}
        figcaption{font-family:var(--sans);font-size:.875rem;color:var(--quiet);line-height:1.45;margin-top:.4rem;max-width:44rem}
        figcaption b{color:var(--ink)}
        svg{display:block;width:100%;height:auto;font-family:var(--sans)}
        .narrow{display:none}
        .ink{fill:var(--ink)}.quiet{fill:var(--quiet)}.limit-text{fill:var(--limit)}.mark-text{fill:var(--mark)}.accent-text{fill:var(--accent)}
        .grid{stroke:var(--rule);stroke-width:1;fill:none}
        .axis{stroke:var(--ink);stroke-width:1;fill:none}
        .dot{fill:none;stroke:var(--dot);stroke-width:1}
        .trend{stroke:var(--accent);stroke-width:2;fill:none}
        .ahead{stroke:var(--accent);stroke-width:1.5;stroke-dasharray:6 4;fill:none}
        .band{fill:var(--band);stroke:none}
        .gap{fill:var(--gap);stroke:none}
        .limit{stroke:var(--limit);stroke-width:1.5;stroke-dasharray:9 3 2 3;fill:none}
        .mark{stroke:var(--mark);stroke-width:1.25;stroke-dasharray:2 3;fill:none}
        .mark-fill{fill:var(--mark);stroke:none}
        .bar{fill:var(--dot);stroke:none}
        .range{stroke:var(--dot);stroke-width:1;fill:none}
        .course{stroke:var(--accent);stroke-width:1.75;fill:none;stroke-linejoin:round}
        .alarm{stroke:var(--ink);stroke-width:1;fill:var(--paper)}
        .alarm-high{stroke:var(--limit);stroke-width:1;fill:var(--limit)}
        ul.plain{padding-left:1.1rem;margin:0 0 1rem;max-width:40rem}
        ul.plain li{margin:.3rem 0;overflow-wrap:anywhere}
        @media (max-width:40rem){
        body{font-size:1rem}header{padding-top:1.25rem}h1{font-size:1.4375rem}
        .first{font-size:1.0625rem}.first strong{font-size:1.875rem}
        .list div{grid-template-columns:9rem 1fr}
        nav ol{columns:1}
        .wide{display:none}.narrow{display:block}
        .facts th,.facts td{display:block;width:auto;padding-right:0}.facts th{border-bottom:0;padding-bottom:0}.facts td{padding-top:0}
        }
        @page{size:auto;margin:17mm 18mm 18mm}
        @media print{
        :root{color-scheme:light;{{ReportColours.Print.Variables}} }
        html{font-size:10.5pt}body{font-size:1rem;line-height:1.45}
        header,main,footer{max-width:none;padding-left:0;padding-right:0}header{padding-top:0}
        .skip,nav{display:none}
        section{padding-top:1.5rem}
        h1,h2,h3,caption,thead{break-after:avoid}
        figure,tr,.list,.verdict{break-inside:avoid}
        thead{display:table-header-group}
        p{orphans:3;widows:3}
        .table{overflow:visible}
        .list div{grid-template-columns:15rem 1fr}
        .wide{display:block}.narrow{display:none}
        .facts th,.facts td{display:table-cell;padding:.3rem .7rem .3rem 0}.facts th{border-bottom:1px solid var(--rule);width:13rem}
        a{color:inherit;text-decoration:none}
        }
        """.ReplaceLineEndings("\n");
}
